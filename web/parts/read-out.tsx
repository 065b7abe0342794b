import { useEffect, useMemo, useState } from 'preact/hooks'
import type { ChannelInfo, DriveAnswer, Measure } from '../../shared/api.ts'
import { clockText, lengthText, numberText } from '../../shared/wording.ts'
import { measure } from '../api.ts'
import { useMoment } from '../chart/use-moment.ts'
import { fail, state } from '../state.ts'
import { useStore } from '../store.ts'
import { figureHeadings, ScrollTable } from './scroll-table.tsx'

/** Values at the cursor; between the marks A and B: how long, mean, extremes, integral, slope. */
export function ReadOut({ drive, channels }: { drive: DriveAnswer; channels: readonly ChannelInfo[] }) {
  const cursorS = useStore(state, (now) => now.cursorS)
  const markA = useStore(state, (now) => now.markA)
  const markB = useStore(state, (now) => now.markB)
  const key = channels.map(({ id }) => id).join(' ')
  const ids = useMemo(() => key.split(' ').filter(Boolean), [key])
  const moment = useMoment(drive.summary.id, ids, cursorS)
  const between = useMeasures(drive.summary.id, channels, markA, markB)
  const { span } = state.get()
  const set = (name: 'markA' | 'markB') =>
    state.set({ [name]: state.get().cursorS ?? (span[0] + span[1]) / 2 })
  return (
    <section class="read-out" aria-labelledby="read-out-title">
      <div class="tool-row">
        <h2 id="read-out-title">
          Read-out{' '}
          <span class="soft tabular">
            {cursorS === null ? 'point at a chart' : `at ${clockText(cursorS, true)}`}
          </span>
        </h2>
        <button type="button" onClick={() => set('markA')}>
          Mark A here
        </button>
        <button type="button" onClick={() => set('markB')}>
          Mark B here
        </button>
        <button type="button" class="quiet" onClick={() => state.set({ markA: null, markB: null })}>
          Clear marks
        </button>
        <span class="tabular" role="status">
          {markA !== null && markB !== null
            ? `A ${clockText(markA, true)}, B ${clockText(markB, true)}: Δt ${lengthText(Math.abs(markB - markA))} (${numberText(Math.abs(markB - markA), 5)} s)`
            : 'Set A and B to measure between them.'}
        </span>
      </div>
      <ScrollTable
        label="Read-out table"
        headings={[
          { text: 'Channel' },
          ...figureHeadings('At cursor', 'Mean A–B', 'Lowest', 'Highest', 'Integral', 'Slope per s'),
        ]}
      >
        {channels.map((channel) => {
          const figures = between.get(channel.id)
          return (
            <tr key={channel.id}>
              <th scope="row">{channel.label}</th>
              <td class="num">{valueText(channel, moment?.values[channel.id] ?? null)}</td>
              <td class="num">{withUnit(figures?.mean, channel.unit)}</td>
              <td class="num">{withUnit(figures?.min, channel.unit)}</td>
              <td class="num">{withUnit(figures?.max, channel.unit)}</td>
              <td class="num">{integralText(figures?.integral, channel.unit)}</td>
              <td class="num">{withUnit(figures?.slope_per_s, channel.unit ? `${channel.unit}/s` : '')}</td>
            </tr>
          )
        })}
      </ScrollTable>
    </section>
  )
}

function useMeasures(
  driveId: string,
  channels: readonly ChannelInfo[],
  a: number | null,
  b: number | null,
): ReadonlyMap<string, Measure> {
  const [found, setFound] = useState<ReadonlyMap<string, Measure>>(new Map())
  const ids = channels.map(({ id }) => id).join(' ')
  useEffect(() => {
    if (a === null || b === null || a === b || ids === '') {
      setFound(new Map())
      return
    }
    let wanted = true
    measure(driveId, ids.split(' '), [Math.min(a, b), Math.max(a, b)]).then(
      (all) => wanted && setFound(new Map(all.map((each) => [each.id, each]))),
      fail,
    )
    return () => {
      wanted = false
    }
  }, [driveId, ids, a, b])
  return found
}

export function valueText(channel: ChannelInfo, value: number | null): string {
  if (value === null) return '–'
  if (channel.labels) return channel.labels[value] ?? '–'
  if (channel.kind !== 'number') return String(value)
  return withUnit(value, channel.unit)
}

function withUnit(value: number | null | undefined, unit: string): string {
  if (value === null || value === undefined) return '–'
  return `${numberText(value, 4)}${unit ? ` ${unit}` : ''}`
}

/** Ampere seconds as ampere hours, watt seconds as watt hours; else the unit times seconds. */
function integralText(value: number | null | undefined, unit: string): string {
  if (value === null || value === undefined) return '–'
  if (unit === 'A') return `${numberText(value / 3600, 4)} Ah`
  if (unit === 'W') return `${numberText(value / 3600, 4)} Wh`
  if (unit === 'km/h') return `${numberText(value / 3600, 4)} km`
  return `${numberText(value, 4)} ${unit ? `${unit}·s` : 's'}`
}
