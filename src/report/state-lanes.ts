import { catalogueEntry, channelLabel } from '../../shared/channels.ts'
import type { Channel } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import type { SvgLane } from './svg-lanes.ts'

/** What the vehicle file says of states and faults. */
export type StateWords = Pick<Vehicle, 'states' | 'fault_bits'>

const SELECTOR: Readonly<Record<string, string>> = { '-1': 'reverse', '0': 'neutral', '1': 'forward' }

/** A code or switch in words: the log's own text, else the vehicle file's, else the number. */
export function codeWord({ id, labels }: Channel, value: number, { states, fault_bits }: StateWords): string {
  if (!Number.isFinite(value)) return 'not read'
  if (labels) return labels[value] ?? String(value)
  if (catalogueEntry(id)?.kind === 'switch') return value === 0 ? 'off' : 'on'
  if (id === 'selector') return SELECTOR[String(value)] ?? String(value)
  const unit = id.startsWith('bms') ? 'bms' : id.startsWith('inverter') ? 'inverter' : null
  if (unit && id.endsWith('_state')) return states?.[unit]?.[String(value)] ?? `state ${value}`
  if (unit && id.endsWith('_faults')) {
    if (value === 0) return 'none'
    const bits = Object.entries(fault_bits?.[unit] ?? {}).flatMap(([bit, name]) =>
      Math.floor(value / 2 ** Number(bit)) % 2 === 1 ? [name] : [],
    )
    return bits.length > 0 ? bits.join(', ') : `code ${value}`
  }
  return String(value)
}

/** A switch's or state's lane over a span: runs of one value, each held until the next sample. */
export function stateLane(
  channel: Channel,
  [from, to]: readonly [number, number],
  words: StateWords,
): SvgLane | null {
  const { timeS, values, id } = channel
  const spans: { from: number; to: number; word: string; on: boolean }[] = []
  let last = Number.NaN
  for (let i = 0; i < timeS.length && timeS[i]! < to; i++) {
    const value = values[i]!
    const before = spans.at(-1)
    const endS = Math.min(to, timeS[i + 1] ?? to)
    if (endS <= from) continue
    if (before && Object.is(value, last)) before.to = endS
    else if (spans.length >= MOST_RUNS) return null
    else
      spans.push({
        from: Math.max(from, timeS[i]!),
        to: endS,
        word: codeWord(channel, value, words),
        on: Number.isFinite(value) && value !== 0,
      })
    last = value
  }
  return spans.length === 0 ? null : { label: channelLabel(id), spans }
}

/** A channel that changes oftener than this in a span is no state to draw. */
const MOST_RUNS = 400

/** Is the channel a switch, a state, a text: drawn in words, never on an axis of numbers? */
export const isState = ({ id, labels }: Channel): boolean =>
  labels !== null || (catalogueEntry(id)?.kind ?? 'number') !== 'number'
