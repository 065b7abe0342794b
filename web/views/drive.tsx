import { useMemo } from 'preact/hooks'
import type { ChannelInfo } from '../../shared/api.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import type { PlotMark } from '../chart/plot-look.ts'
import { AddChannel } from '../parts/add-channel.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { EventList } from '../parts/event-list.tsx'
import { Stretches } from '../parts/overview-strip.tsx'
import { ReadOut } from '../parts/read-out.tsx'
import { state } from '../state.ts'
import { useStore } from '../store.ts'
import { DriveFigures } from './drive-figures.tsx'
import type { ViewProps } from './drive-frame.tsx'

/** Any channels over time, stacked on one time axis, with read-out and measuring. */
export function Drive({ drive }: ViewProps) {
  const chosen = useStore(state, (now) => now.charts)
  const charts = useMemo(
    () =>
      (chosen.length > 0 ? chosen : usualCharts(drive.channels))
        .map((ids) => channelsOf(drive, ids))
        .filter((chart) => chart.length > 0),
    [chosen, drive],
  )
  const events = useMemo(() => drive.review.timeline.map(toMark), [drive])
  const set = (next: ChannelInfo[][]) =>
    state.set({ charts: next.filter((chart) => chart.length > 0).map((chart) => chart.map(({ id }) => id)) })
  return (
    <>
      <h1 class="unseen">The drive over time</h1>
      <div class="tool-row">
        <ChartTools />
        <Stretches drive={drive} />
        <AddChannel
          channels={drive.channels}
          onAdd={(channel) => set(withChannel(charts, channel))}
          onReset={() => state.set({ charts: [] })}
        />
      </div>
      <ChartStack
        drive={drive}
        charts={charts}
        height={150}
        events={events}
        onRemove={(id) => set(charts.map((chart) => chart.filter((channel) => channel.id !== id)))}
      />
      {events.length > 0 ? (
        <p class="soft">Dotted lines are the moments listed at the end of this page.</p>
      ) : null}
      <ReadOut drive={drive} channels={charts.flat()} />
      <DriveFigures review={drive.review} />
      <EventList events={drive.review.timeline} />
    </>
  )
}

function toMark({ at_s }: { at_s: number }): PlotMark {
  return { atS: at_s, label: '', strong: false }
}

/** A channel joins the chart of its unit, where there is room; else it gets its own. */
function withChannel(charts: ChannelInfo[][], channel: ChannelInfo): ChannelInfo[][] {
  if (charts.flat().some(({ id }) => id === channel.id)) return charts
  const fits = (chart: ChannelInfo[]) =>
    !channel.labels &&
    chart.length < 6 &&
    chart.every(({ unit, kind, labels }) => !labels && unit === channel.unit && kind === channel.kind)
  const home = charts.find(fits)
  if (!home) return [...charts, [channel]]
  return charts.map((chart) => (chart === home ? [...chart, channel] : chart))
}

/** What people look at first, as far as it was logged: at most six charts. */
export function usualCharts(channels: readonly ChannelInfo[]): string[][] {
  const wanted = [
    ['speed', 'motor_speed'],
    ['pack_current', 'inverter_dc_current'],
    ['pack_voltage', 'link_voltage'],
    ['lowest_cell_voltage', 'highest_cell_voltage', 'mean_cell_voltage'],
    ['torque', 'torque_request'],
    ['pedal_position', 'brake_travel'],
    ['brake_pressure', 'brake_pressure_front', 'brake_pressure_rear'],
    ['hottest_temperature', 'coldest_temperature', 'module_temperature.1'],
    ['contactor_precharge', 'contactor_positive', 'contactor_negative', 'drive_ready'],
  ]
  const has = (id: string) => channels.find((channel) => channel.id === id)
  const charts = wanted.flatMap((ids) => {
    const known = ids.filter(has)
    const unit = known[0] === undefined ? '' : has(known[0])!.unit
    const same = known.filter((id) => has(id)!.unit === unit)
    return same.length > 0 ? [same] : []
  })
  const found = charts.slice(0, 6)
  if (found.length > 0) return found
  return channels.slice(0, 4).map(({ id }) => [id])
}
