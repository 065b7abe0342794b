import { useEffect, useMemo } from 'preact/hooks'
import type { ChannelInfo } from '../../shared/api.ts'
import type { ModuleRow } from '../../shared/review.ts'
import { fixedText, lengthText, withInterval } from '../../shared/wording.ts'
import { ChartStack } from '../chart/chart-stack.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { figureHeadings, ScrollTable } from '../parts/scroll-table.tsx'
import { showWhole } from '../state.ts'
import type { ViewProps } from './drive-frame.tsx'

/** Modules over time, how each warmed, and how it compares with its cooling group. */
export function Heat({ drive }: ViewProps) {
  const { modules, findings } = drive.review
  useEffect(showWhole, [])
  const charts = useMemo(() => heatCharts(drive.channels), [drive])
  const accused = new Set(
    findings.flatMap((f) =>
      f.subject.type === 'module' && f.severity !== 'note' && f.subject.index ? [f.subject.index] : [],
    ),
  )
  return (
    <>
      <h1>Heat</h1>
      <FoundHere drive={drive} view="heat" />
      {charts.length === 0 ? (
        <NotHere drive={drive} areas={['heat']} what="No temperatures are in this log." />
      ) : (
        <>
          <ChartTools />
          <ChartStack drive={drive} charts={charts} height={160} />
        </>
      )}
      {modules.length > 0 ? <ModuleTable modules={modules} accused={accused} /> : null}
      <AskedHere drive={drive} areas={['heat']} />
    </>
  )
}

function ModuleTable({ modules, accused }: { modules: readonly ModuleRow[]; accused: ReadonlySet<number> }) {
  const ratios = modules.flatMap((module) => module.thermal_resistance_ratio ?? [])
  const most = Math.max(1, ...ratios)
  const forecasts = modules.some((module) => module.forecast_c !== null)
  return (
    <>
      <h2>Module by module</h2>
      <ScrollTable
        label="Modules"
        headings={[
          { text: 'Module' },
          { text: 'Box' },
          ...figureHeadings('Rise'),
          ...(ratios.length > 0 ? [{ text: 'Thermal resistance against its cooling group' }] : []),
          ...figureHeadings('Hottest', 'Spread inside'),
          ...(forecasts ? [{ text: 'If driven on like this' }] : []),
        ]}
      >
        {modules.map((module) => (
          <tr key={module.index} class={accused.has(module.index) ? 'row-accused' : ''}>
            <th scope="row">
              {accused.has(module.index) ? '▲ ' : ''}
              {module.index}
            </th>
            <td>{module.box ?? '–'}</td>
            <td class="num">{withIntervalOrDash(module.rise_c, module.rise_c_plus_minus, 'K')}</td>
            {ratios.length === 0 ? null : (
              <td>
                <Ratio module={module} most={most} />
              </td>
            )}
            <td class="num">{withIntervalOrDash(module.hottest_c, module.hottest_c_plus_minus, '°C')}</td>
            <td class="num">{module.spread_c === null ? '–' : `${fixedText(module.spread_c, 2)} K`}</td>
            {forecasts ? <td>{forecastText(module)}</td> : null}
          </tr>
        ))}
      </ScrollTable>
      {ratios.length > 0 ? null : (
        <p class="soft">
          How well each module is cooled against its peers cannot be told from this drive; what to drive for
          it stands below.
        </p>
      )}
      {forecasts ? (
        <p class="soft">A forecast holds for this drive’s load and weather only. It is no leave to go on.</p>
      ) : null}
    </>
  )
}

const withIntervalOrDash = (value: number | null, plusMinus: number | null, unit: string) =>
  value === null ? '–' : withInterval(value, plusMinus, unit)

function Ratio({ module, most }: { module: ModuleRow; most: number }) {
  const value = module.thermal_resistance_ratio
  if (value === null) return <span class="soft">cannot be told from this drive</span>
  return (
    <span class="bar-cell">
      <span class="bar" style={{ width: `${(Math.max(0, value) / most) * 100}px` }} />
      <span class="tabular">{withInterval(value, module.thermal_resistance_ratio_plus_minus, '')}</span>
    </span>
  )
}

function forecastText({ forecast_c, forecast_c_plus_minus, time_to_limit_s }: ModuleRow): string {
  if (forecast_c === null) return '–'
  const settles = `settles near ${withInterval(forecast_c, forecast_c_plus_minus, '°C')}`
  return time_to_limit_s === null
    ? settles
    : `${settles}; meets its limit after ${lengthText(time_to_limit_s)}`
}

/** Sensors of modules six a chart, then coolant, then the drive's own temperatures. */
function heatCharts(channels: readonly ChannelInfo[]): ChannelInfo[][] {
  const sensors = channels.filter(({ id }) => id.startsWith('module_temperature.'))
  const charts: ChannelInfo[][] = []
  for (let at = 0; at < sensors.length; at += 6) charts.push(sensors.slice(at, at + 6))
  const pick = (...ids: string[]) => ids.flatMap((id) => channels.find((channel) => channel.id === id) ?? [])
  charts.push(pick('hottest_temperature', 'coldest_temperature'))
  charts.push(pick('coolant_in', 'coolant_out'))
  charts.push(pick('inverter_temperature', 'motor_temperature', 'charger_temperature', 'dcdc_temperature'))
  charts.push(pick('pack_current'))
  const found = charts.filter((chart) => chart.length > 0)
  return found.length === 1 && found[0]![0]!.id === 'pack_current' ? [] : found
}
