import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { meaningOfWord, type StateMeaning, stateWords } from '../../car/unit-state.ts'
import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { indexAt, samplePeriod } from '../../samples/on-one-clock.ts'
import { switchGridS } from './switch-grid.ts'

/** A channel of more samples is written on a clock, not on events; no source. */
const FEW_SAMPLES = 200
/** Between off and on. */
const HALF = 0.5

/** From here on the accelerator counts as pressed, below as released, % of travel. Common practice, no source. */
export const PRESSED_PERCENT = 5

/**
 * A change of a switch or code, bracketed by the log's resolution: the new value was first seen at `atS`, and the
 * sample before it still showed the old one, so the change itself lies in (earliestS, atS].
 *
 *     samples   0   0   0   1   1        a row every 0.1 s
 *                       |   |
 *            earliestS -+   +- atS
 *
 * In a log written by events (a sample only where something changed) they are one step of its stamps apart.
 */
export interface Change {
  readonly atS: number
  readonly earliestS: number
  readonly value: number
}

/** A switch or code as its changes; the first entry is the first sample, with `earliestS` −∞. */
export interface Track {
  readonly id: string
  readonly changes: readonly Change[]
  readonly lastS: number
  /** Typical time between samples, s; NaN in a log written by events. */
  readonly periodS: number
  readonly eventWritten: boolean
}

/**
 * The changes of a channel's values after `map`; NaN (before or after `map`) is skipped. Null when empty.
 *
 * @param readEveryS how often the channel is truly read where its rows are faster, s (`switch-grid.ts`)
 */
export function trackOf(
  channel: Channel | undefined,
  map: (value: number) => number = (v) => v,
  readEveryS = 0,
): Track | null {
  if (!channel) return null
  const { timeS, values, fresh } = channel
  const raw: { at: number; before: number; value: number }[] = []
  let previous = Number.NEGATIVE_INFINITY
  let last = Number.NaN
  let samples = 0
  for (let i = 0; i < timeS.length; i++) {
    if (fresh && fresh[i] === 0) continue
    const value = map(values[i]!)
    if (!Number.isFinite(value)) continue
    samples++
    if (value !== last) raw.push({ at: timeS[i]!, before: previous, value })
    last = value
    previous = timeS[i]!
  }
  if (raw.length === 0) return null
  const eventWritten = samples <= 2 * raw.length + 1 && samples < FEW_SAMPLES
  const gridS = eventWritten ? stampGrid(raw.map(({ at }) => at)) : 0
  return {
    id: channel.id,
    changes: raw.map(({ at, before, value }, i) => ({
      atS: at,
      earliestS: eventWritten && i > 0 ? Math.max(before, at - gridS) : Math.min(before, at - readEveryS),
      value,
    })),
    lastS: previous,
    periodS: eventWritten ? Number.NaN : Math.max(samplePeriod(timeS), readEveryS),
    eventWritten,
  }
}

const GRIDS_S = [1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001]

/** The coarsest grid on which all stamps lie: a log written by events may still be polled. 1 ms at the finest. */
function stampGrid(stampsS: readonly number[]): number {
  const on = (grid: number): boolean =>
    stampsS.every((at) => Math.abs(at / grid - Math.round(at / grid)) * grid < 1e-4)
  return GRIDS_S.find(on) ?? 0.001
}

/** The track's value at a moment (sample and hold); NaN before its first sample. */
export function valueAt(track: Track | null, atS: number): number {
  if (!track) return Number.NaN
  const { changes } = track
  let low = 0
  let high = changes.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (changes[middle]!.atS <= atS) low = middle + 1
    else high = middle
  }
  return changes[low - 1]?.value ?? Number.NaN
}

/** The first change to a value that `wanted` accepts, seen in [fromS, toS]; a value already held at fromS counts. */
export function firstWhere(
  track: Track | null,
  fromS: number,
  toS: number,
  wanted: (value: number) => boolean,
): Change | null {
  if (!track) return null
  const already = valueAt(track, fromS)
  if (Number.isFinite(already) && wanted(already)) {
    let held: Change | null = null
    for (const change of track.changes) if (change.atS <= fromS) held = change
    return held
  }
  return (
    track.changes.find((change) => change.atS > fromS && change.atS <= toS && wanted(change.value)) ?? null
  )
}

/** A stretch in which a track held one value; `from` and `to` are its changes, `to` null at the log's end. */
export interface Held {
  readonly from: Change
  readonly to: Change | null
  readonly startS: number
  readonly endS: number
}

export function stretches(track: Track | null, wanted: (value: number) => boolean, endS: number): Held[] {
  if (!track) return []
  const found: Held[] = []
  track.changes.forEach((from, i) => {
    const to = track.changes[i + 1] ?? null
    if (!wanted(from.value)) return
    const last = found.at(-1)
    const end = to?.atS ?? endS
    if (last && last.endS === from.atS) found[found.length - 1] = { ...last, to, endS: end }
    else found.push({ from, to, startS: from.atS, endS: end })
  })
  return found
}

/** Tracks already made of this drive: several analyses and every attempt ask for the same ones. */
function madeTracks(_facts: Facts): Map<string, Track | null> {
  return new Map()
}

function remembered(facts: Facts, name: string, make: () => Track | null): Track | null {
  const made = facts.once(madeTracks)
  if (!made.has(name)) made.set(name, make())
  return made.get(name)!
}

/** A switch that may be believed: its polarity is proved. */
export function switchTrack(facts: Facts, id: ChannelId): Track | null {
  return remembered(facts, id, () => {
    const channel = facts.drive.channels.get(id)
    return channel && channel.polarity !== null
      ? trackOf(channel, (v) => (v > HALF ? 1 : 0), switchGridS(facts.drive, channel))
      : null
  })
}

export type ContactorName = 'precharge' | 'positive' | 'negative'

/**
 * A contactor as open (0) or closed (1): its feedback where logged, else the plain channel, else the command. Null
 * where none is logged with a proved polarity.
 */
export function contactorTrack(facts: Facts, name: ContactorName): Track | null {
  return (
    switchTrack(facts, `contactor_${name}_feedback`) ??
    switchTrack(facts, `contactor_${name}`) ??
    switchTrack(facts, `contactor_${name}_command`)
  )
}

export interface StateTrack {
  readonly track: Track
  /** The word for a code, or null where the vehicle file has none. */
  readonly word: (code: number) => string | null
  readonly meaning: (code: number) => StateMeaning | null
  /** States of a start in which main contactors are closed or closing: precharge, closed, drive; `ready` after precharge. */
  readonly closing: (code: number) => boolean
}

/** A state channel with its words: from its own text, or from `states` of the vehicle file. Null where not logged. */
export function stateTrack(facts: Facts, unit: 'bms' | 'inverter'): StateTrack | null {
  const channel = facts.drive.channels.get(`${unit}_state`)
  if (!channel) return null
  const track = trackOf(channel, undefined, switchGridS(facts.drive, channel))
  if (!track) return null
  const word = stateWords(channel, facts.vehicle, unit)
  const meaning = (code: number): StateMeaning | null => meaningOfWord(word(code), unit)
  const readyCloses = track.changes.some(
    ({ value }, i) =>
      meaning(value) === 'ready' && i > 0 && meaning(track.changes[i - 1]!.value) === 'precharge',
  )
  const closing = (code: number): boolean => {
    const means = meaning(code)
    return (
      means === 'precharge' || means === 'closed' || means === 'drive' || (means === 'ready' && readyCloses)
    )
  }
  return { track, word, meaning, closing }
}

/** Everything that the start chain reads, looked up once: null = not logged, or not to be believed. */
export interface StartSignals {
  readonly key: Track | null
  readonly plug: Track | null
  readonly interlock: Track | null
  readonly inertia: Track | null
  readonly brakeSwitch: Track | null
  readonly selector: Track | null
  readonly ready: Track | null
  readonly precharge: Track | null
  readonly positive: Track | null
  readonly negative: Track | null
  readonly bms: StateTrack | null
  readonly inverter: StateTrack | null
  readonly endS: number
}

export function startSignals(facts: Facts): StartSignals {
  return {
    key: switchTrack(facts, 'key_on'),
    plug: switchTrack(facts, 'charge_plug'),
    interlock: switchTrack(facts, 'interlock_closed'),
    inertia: switchTrack(facts, 'inertia_closed'),
    brakeSwitch: switchTrack(facts, 'brake_switch'),
    selector: trackOf(facts.drive.channels.get('selector')),
    ready: switchTrack(facts, 'drive_ready'),
    precharge: contactorTrack(facts, 'precharge'),
    positive: contactorTrack(facts, 'positive'),
    negative: contactorTrack(facts, 'negative'),
    bms: stateTrack(facts, 'bms'),
    inverter: stateTrack(facts, 'inverter'),
    endS: facts.drive.durationS,
  }
}

/** Median of the finite samples in [fromS, toS], repeats of held rows left out; NaN where there is none. */
export function medianOf(channel: Channel | undefined, fromS: number, toS: number): number {
  if (!channel || channel.fresh) return median(samplesIn(channel, fromS, toS).values)
  const { timeS, values } = channel
  const first = firstFrom(timeS, fromS)
  return median(values.subarray(first, Math.max(first, indexAt(timeS, toS) + 1)))
}

/** Place of the first moment at or after `atS`. */
function firstFrom(timeS: Float64Array, atS: number): number {
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle]! < atS) low = middle + 1
    else high = middle
  }
  return low
}

/**
 * Samples of a channel in [fromS, toS], repeats of held rows left out, finite ones only. A window on the channel's own
 * arrays where nothing is left out: not to be written to.
 */
export function samplesIn(
  channel: Channel | undefined,
  fromS: number,
  toS: number,
): { timeS: Float64Array; values: Float64Array } {
  if (!channel) return { timeS: new Float64Array(0), values: new Float64Array(0) }
  const { timeS, values, fresh } = channel
  const first = firstFrom(timeS, fromS)
  const end = Math.max(first, indexAt(timeS, toS) + 1)
  let kept = 0
  for (let i = first; i < end; i++) if (fresh?.[i] !== 0 && Number.isFinite(values[i])) kept++
  if (kept === end - first) return { timeS: timeS.subarray(first, end), values: values.subarray(first, end) }
  const own = { timeS: new Float64Array(kept), values: new Float64Array(kept) }
  for (let i = first, at = 0; i < end; i++) {
    if ((fresh && fresh[i] === 0) || !Number.isFinite(values[i])) continue
    own.timeS[at] = timeS[i]!
    own.values[at++] = values[i]!
  }
  return own
}

/** Set bits of a word up to 2⁵³, lowest first. */
export function bitsOf(word: number): number[] {
  const bits: number[] = []
  let rest = Math.trunc(Math.abs(word))
  for (let bit = 0; rest > 0; bit++) {
    if (rest % 2 === 1) bits.push(bit)
    rest = Math.floor(rest / 2)
  }
  return bits
}

/** A fault word in words: the vehicle file's names of its bits, or their numbers. */
export function faultWords(facts: Facts, unit: 'bms' | 'inverter', word: number): string[] {
  const names = facts.vehicle.fault_bits?.[unit] ?? {}
  return bitsOf(word).map((bit) => names[bit] ?? `bit ${bit}`)
}
