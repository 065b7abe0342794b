import { endPoints } from '../../car/pedal-ends.ts'
import { poweredSpans } from '../../car/pedal-power.ts'
import type { Facts } from '../../facts/facts.ts'
import { type HeldRun, runsAbove } from '../../math/held-runs.ts'
import { median, quantile } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'

/** Beyond these a 5 V sensor's reading lies on the rail; common practice, no source. */
const LOW_RAIL_V = 0.15
/** See above. */
const HIGH_RAIL_V = 4.85
/** A sensor of a 12 V car reads no more; no source. */
const MOST_V = 13

/** A signal failure of a track must last longer than this before it counts, s: FSAE rules T.4.2.5 and T.4.3. */
export const RANGE_HELD_S = 0.1

/** What one track reads against its valid range, in volts. */
export interface TrackRange {
  readonly track: 1 | 2
  readonly timeS: Float64Array
  readonly volts: Float64Array
  readonly low: number
  readonly high: number
  readonly runs: readonly (HeldRun & { readonly readingV: number; readonly looks: string })[]
  readonly sampleS: number
  /** Nearest approach to a limit over the drive, V (negative: past it). */
  readonly marginV: number
}

/** Ranges of both tracks while the pedal has its supply; empty for tracks that are not in volts. */
export function pedalRange(facts: Facts): readonly TrackRange[] {
  const ends = facts.once(endPoints)
  const powered = poweredSpans(facts)
  const [low, high] = facts.vehicle.pedal?.valid_v ?? [
    facts.limits.pedalLowV.stop ?? Number.NaN,
    facts.limits.pedalHighV.stop ?? Number.NaN,
  ]
  const found: TrackRange[] = []
  for (const track of [1, 2] as const) {
    const channel = facts.drive.channels.get(`pedal_track_${track}`)
    if (!channel || channel.values.length < 2) continue
    const { timeS, values } = freshSamples(channel)
    if (ends ? ends.unit !== 'V' : quantile(values, 0.999) > MOST_V || channel.unit !== 'V') continue
    let span = 0
    const past = new Float64Array(values.length)
    let marginV = Number.POSITIVE_INFINITY
    for (let i = 0; i < values.length; i++) {
      while (span < powered.length && powered[span]![1] <= timeS[i]!) span++
      const live = span < powered.length && powered[span]![0] <= timeS[i]!
      const margin = live ? Math.min(values[i]! - low, high - values[i]!) : Number.NaN
      past[i] = -margin
      if (margin < marginV) marginV = margin
    }
    const runs = runsAbove(timeS, past, 0).map((run) => {
      const readingV = median(values.subarray(run.first, run.last + 1))
      return { ...run, readingV, looks: looksLike(readingV) }
    })
    found.push({ track, timeS, volts: values, low, high, runs, sampleS: samplePeriod(timeS), marginV })
  }
  return found
}

function looksLike(volts: number): string {
  if (volts < LOW_RAIL_V) return 'a short to ground, a lost supply or an open wire at an input pulled low'
  if (volts > HIGH_RAIL_V)
    return 'a short to the supply, a lost ground or an open wire at an input pulled high'
  return 'a sensor off its end, or a poor contact in its supply, ground or signal wire'
}
