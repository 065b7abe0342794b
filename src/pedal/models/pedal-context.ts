import type { PedalTravel } from '../../car/pedal-travel.ts'
import type { Facts } from '../../facts/facts.ts'
import type { HeldRun } from '../../math/held-runs.ts'
import { extremes, median, quantile } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

/** Fewer returns show no place of the travel; no source. */
const FEWEST_RUNS = 3
/** Returns within so much of the travel are at one place; no source. */
const ONE_PLACE_POINTS = 15
/** Two tracks that read this near are on one wire; no source. */
const SAME_V = 0.06
/** While they moved by more than noise; no source. */
const MOVES_V = 0.15
/** Or for so many readings; no source. */
const LONG_ROWS = 20
/** A track that moved by so much more than the other is the one that jumped; no source. */
const JUMP_POINTS = 5

/** What stood beside a mismatch: which track moved, where along the travel, what the supplies did. */
export interface PedalContext {
  /** Track that jumped at the onset while the other did not; null where neither or both did. */
  readonly jumped: 1 | 2 | null
  /** Travel during the runs, percent: lowest and highest. */
  readonly travel: readonly [number, number]
  readonly sentences: readonly string[]
}

/** Describes the runs of a mismatch in sentences for a workshop person. Judges nothing. */
export function pedalContext(facts: Facts, travel: PedalTravel, runs: readonly HeldRun[]): PedalContext {
  const sentences: string[] = []
  const worst = runs.reduce((a, b) => (b.atLeastS > a.atLeastS ? b : a))
  const jumped = jumpedTrack(travel, worst)
  if (jumped) sentences.push(`At its onset track ${jumped} moved away while the other track did not.`)
  const inside = runs.flatMap((run) =>
    Array.from({ length: run.last - run.first + 1 }, (_, k) => run.first + k),
  )
  const still = jumped === 1 ? travel.travel2 : travel.travel1
  const { low, high } = extremes(inside.map((i) => still[i]!))
  if (runs.length >= FEWEST_RUNS && high - low < ONE_PLACE_POINTS)
    sentences.push(
      `It comes back ${runs.length} times, always between ${low.toFixed(0)} and ${high.toFixed(0)} % of travel: a worn spot of the track would do that.`,
    )
  if (travel.ends.unit === 'V' && travel.ends.relation === 'mirrored') {
    const apart = median(inside.map((i) => Math.abs(travel.raw1[i]! - travel.raw2[i]!)))
    const spread = extremes(inside.map((i) => travel.raw1[i]!))
    if (apart < SAME_V && (spread.high - spread.low > MOVES_V || inside.length > LONG_ROWS))
      sentences.push(
        'While it lasts both tracks read the same volts instead of mirroring each other: their signal wires may touch.',
      )
  }
  sentences.push(...supplySentences(facts, travel, inside))
  return { jumped, travel: [low, high], sentences }
}

/** Change of each track from just before the run to just inside it. */
function jumpedTrack(travel: PedalTravel, run: HeldRun): 1 | 2 | null {
  const before = run.first - 2
  const after = run.first + 1
  if (before < 0 || after >= travel.timeS.length) return null
  const first = Math.abs(travel.travel1[after]! - travel.travel1[before]!)
  const second = Math.abs(travel.travel2[after]! - travel.travel2[before]!)
  if (first > JUMP_POINTS && first > 3 * second) return 1
  if (second > JUMP_POINTS && second > 3 * first) return 2
  return null
}

function supplySentences(facts: Facts, travel: PedalTravel, inside: readonly number[]): string[] {
  const at = inside.map((i) => travel.timeS[i]!)
  const found: string[] = []
  for (const [id, label, dip] of [
    ['lv_voltage', '12 V system', 1.5],
    ['pedal_supply_1', 'supply of track 1', 0.1],
    ['pedal_supply_2', 'supply of track 2', 0.1],
  ] as const) {
    const channel = facts.drive.channels.get(id)
    if (!channel) continue
    const usual = median(channel.values)
    const lowest = quantile(linearAt(channel, at, 5), 0.02)
    if (usual - lowest > dip)
      found.push(
        `The ${label} stood at ${lowest.toFixed(1)} V then, ${(usual - lowest).toFixed(1)} V under its usual value.`,
      )
  }
  return found
}
