import { useEffect, useMemo, useState } from 'preact/hooks'
import type { ChannelInfo, DriveAnswer, Measure } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import { clockText, lengthText, numberText } from '../../shared/wording.ts'
import { measure } from '../api.ts'
import { useMoment } from '../chart/use-moment.ts'
import { fail, state } from '../state.ts'
import { useStore } from '../store.ts'
import { figureHeadings, ScrollTable } from './scroll-table.tsx'

/** A longer stretch is measured only where A and B ask for it: every sample is read for it. */
const MOST_SAMPLES = 3e6
const NONE: readonly ChannelInfo[] = []

/** How long the charts must rest before their stretch is measured. */
const REST_MS = 250

/** Values at the cursor; of the stretch shown, or between the marks A and B: mean, extremes, integral, slope. */
export function ReadOut({ drive, channels }: { drive: DriveAnswer; channels: readonly ChannelInfo[] }) {
  const cursorS = useStore(state, (now) => now.cursorS)
  const markA = useStore(state, (now) => now.markA)
  const markB = useStore(state, (now) => now.markB)
  const key = channels.map(({ id }) => id).join(' ')
  const ids = useMemo(() => key.split(' ').filter(Boolean), [key])
  const moment = useMoment(drive.summary.id, ids, cursorS)
  const span = useStore(state, (now) => now.span)
  const marked = markA !== null && markB !== null && markA !== markB
  const over = useMemo<Span>(
    () => (marked ? [Math.min(markA, markB), Math.max(markA, markB)] : span),
    [marked, markA, markB, span],
  )
  const within = (over[1] - over[0]) / Math.max(drive.summary.duration_s, 1e-6)
  const samples = within * channels.reduce((sum, channel) => sum + channel.samples, 0)
  const measured = marked || samples < MOST_SAMPLES
  const between = useMeasures(drive.summary.id, measured ? channels : NONE, over)
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
            : measured
              ? 'The figures are of the stretch shown; set A and B to measure between them.'
              : 'Zoom in, or set A and B, for the figures of a stretch.'}
        </span>
      </div>
      <ScrollTable
        label="Read-out table"
        headings={[
          { text: 'Channel' },
          ...figureHeadings('At cursor', 'Mean', 'Lowest', 'Highest', 'Integral', 'Slope'),
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
              <td class="num">
                {withUnit(figures?.slope_per_s, channel.unit ? `${channel.unit}/s` : '', 2)}
              </td>
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
  [from, to]: Span,
): ReadonlyMap<string, Measure> {
  const [found, setFound] = useState<ReadonlyMap<string, Measure>>(new Map())
  const ids = channels.map(({ id }) => id).join(' ')
  useEffect(() => {
    if (ids === '') {
      setFound(new Map())
      return
    }
    let wanted = true
    // While the charts pan or zoom nothing is asked: the figures follow when they rest.
    const timer = setTimeout(() => {
      measure(driveId, ids.split(' '), [from, to]).then(
        (all) => wanted && setFound(new Map(all.map((each) => [each.id, each]))),
        fail,
      )
    }, REST_MS)
    return () => {
      wanted = false
      clearTimeout(timer)
    }
  }, [driveId, ids, from, to])
  return found
}

export function valueText(channel: ChannelInfo, value: number | null): string {
  if (value === null) return '–'
  if (channel.labels) return channel.labels[value] ?? '–'
  if (channel.kind !== 'number') return String(value)
  return withUnit(value, channel.unit)
}

function withUnit(value: number | null | undefined, unit: string, digits = 4): string {
  if (value === null || value === undefined) return '–'
  return `${numberText(value, digits)}${unit ? ` ${unit}` : ''}`
}

/** Ampere seconds as ampere hours, watt seconds as watt hours; else the unit times seconds. */
function integralText(value: number | null | undefined, unit: string): string {
  if (value === null || value === undefined) return '–'
  if (unit === 'A') return `${numberText(value / 3600, 4)} Ah`
  if (unit === 'W') return `${numberText(value / 3600, 4)} Wh`
  if (unit === 'km/h') return `${numberText(value / 3600, 4)} km`
  return `${numberText(value, 4)} ${unit ? `${unit}·s` : 's'}`
}
