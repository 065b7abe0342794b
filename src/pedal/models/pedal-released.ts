import { restBeforePress } from '../../car/pedal-rest.ts'
import { type PedalTravel, pedalTravel } from '../../car/pedal-travel.ts'
import type { Facts } from '../../facts/facts.ts'
import { jitter } from '../../math/jitter.ts'
import { extremes, quantile } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { samplePeriod, staleAfter } from '../../samples/on-one-clock.ts'

/** A pedal that rests farther from 0 was never released; no source. */
const MOST_REST_PERCENT = 5

/** When the foot is off the accelerator, on the pedal's own samples. */
export interface PedalReleased {
  readonly timeS: Float64Array
  /** 1 released, 0 not (pressed, or a track out of range or frozen), NaN no reading. */
  readonly released: Float64Array
  readonly periodS: number
  /** A value older than this says nothing, s; Infinity where the channel is written only when it changes. */
  readonly staleS: number
  /** How the released end is known, in words. */
  readonly how: string
  readonly channels: readonly string[]
}

/** Why it cannot be told when the pedal was released. */
export type ReleasedUnknown = { readonly why: string }

/** Noise widens the 1 % by at most so much, points: at 3 % of travel a foot is on the pedal. */
const NOISE_ROOM = 1
/** One track stands while the other moves by so much: it is frozen, points. */
const OTHER_MOVED = 10
const STOOD = 0.3
/** A track whose readings otherwise always differ a little, and that repeats itself for so long, is frozen, s. */
const REPEATS_S = 5
const MIN_READINGS = 20

/**
 * Released: every track under 1 % of travel by the vehicle file's end points, else by the readings before the first
 * press (`restBeforePress`); never learned again later. A track out of range or frozen is never released. Without two
 * tracks the controller's own `pedal_position`, whose 0 % is the released end where the log begins pressed.
 */
export function pedalReleased(facts: Facts): PedalReleased | ReleasedUnknown {
  const tracks = facts.once(pedalTravel)
  const percent = facts.limits.releasedTravelPercent.stop ?? Number.NaN
  if (tracks?.ends.trusted && tracks.ends.restKnown) return byTracks(facts, tracks, percent)
  const position = facts.drive.channels.get('pedal_position')
  if (position) {
    const { timeS, values } = freshSamples(position)
    if (values.length >= MIN_READINGS) {
      const { low, high } = extremes(values)
      if (!(high - low > 2 * percent))
        return { why: 'the accelerator reads the same over the whole log, so it may be frozen' }
      const learned = restBeforePress(values, quantile(values, 0.02), high - low, true)
      const rest = learned !== null && Math.abs(learned) <= MOST_REST_PERCENT ? learned : 0
      const bar = rest + percent + room(values)
      return {
        timeS,
        released: values.map((value) => (Number.isFinite(value) ? (value < bar ? 1 : 0) : Number.NaN)),
        periodS: samplePeriod(timeS),
        staleS: staleAfter(position),
        how:
          learned === null ? 'its 0 % taken as released' : 'released by its readings before the first press',
        channels: ['pedal_position'],
      }
    }
  }
  if (tracks)
    return {
      why: 'the log begins with the accelerator pressed and the vehicle file gives no end points, so its released reading is not known',
    }
  return { why: 'the accelerator cannot be read' }
}

const room = (percent: ArrayLike<number>): number => Math.min(NOISE_ROOM, 2 * jitter(percent) || 0)

function byTracks(facts: Facts, tracks: PedalTravel, percent: number): PedalReleased {
  const { ends, timeS, raw1, raw2, travel1, travel2 } = tracks
  const [low, high] = facts.vehicle.pedal?.valid_v ?? [
    facts.limits.pedalLowV.stop ?? Number.NaN,
    facts.limits.pedalHighV.stop ?? Number.NaN,
  ]
  const valid = (volts: number): boolean => ends.unit !== 'V' || (volts >= low && volts <= high)
  const bar = percent + Math.min(NOISE_ROOM, 2 * tracks.noisePoints)
  const frozen = frozenAt(tracks)
  const released = new Float64Array(timeS.length)
  for (let i = 0; i < timeS.length; i++) {
    const both = travel1[i]! + travel2[i]!
    released[i] = Number.isNaN(both)
      ? Number.NaN
      : travel1[i]! < bar && travel2[i]! < bar && valid(raw1[i]!) && valid(raw2[i]!) && frozen[i] === 0
        ? 1
        : 0
  }
  const one = facts.drive.channels.get('pedal_track_1')!
  return {
    timeS,
    released,
    periodS: samplePeriod(timeS),
    staleS: staleAfter(one),
    how: `end points: ${ends.how}`,
    channels: tracks.channels,
  }
}

/** 1 where a track stands still although it should not: the other one moves, or it repeats itself to the last digit. */
function frozenAt({ timeS, raw1, raw2, travel1, travel2 }: PedalTravel): Uint8Array {
  const frozen = new Uint8Array(timeS.length)
  for (const [raw, own, other] of [
    [raw1, travel1, travel2],
    [raw2, travel2, travel1],
  ] as const) {
    let differ = 0
    for (let i = 1; i < raw.length; i++) if (raw[i] !== raw[i - 1]) differ++
    const restless = differ > 0.6 * raw.length
    let from = 0
    let low = other[0]!
    let high = other[0]!
    for (let i = 1; i <= raw.length; i++) {
      if (i < raw.length && Math.abs(own[i]! - own[from]!) <= STOOD) {
        low = Math.min(low, other[i]!)
        high = Math.max(high, other[i]!)
        continue
      }
      const still = exactly(raw, from, i)
      if (high - low > OTHER_MOVED || (restless && still && timeS[i - 1]! - timeS[from]! > REPEATS_S))
        frozen.fill(1, from, i)
      from = i
      low = other[i]!
      high = other[i]!
    }
  }
  return frozen
}

function exactly(raw: Float64Array, from: number, to: number): boolean {
  for (let i = from + 1; i < to; i++) if (raw[i] !== raw[from]) return false
  return true
}
