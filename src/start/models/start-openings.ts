import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { sequences } from './start-sequences.ts'
import { type Change, contactorTrack } from './start-signals.ts'

/** A main contactor opening, and the current it broke. */
export interface Opening {
  readonly name: 'positive' | 'negative'
  readonly change: Change
  /** Last pack current before it collapsed, A, discharge positive; NaN where none is logged close enough. */
  readonly amperes: number
  readonly plusMinusA: number
}

/** Every main contactor's opening at the end of a sequence, the first of a pair that opens together. */
export function openings(facts: Facts): Opening[] {
  const found: Opening[] = []
  for (const sequence of facts.once(sequences)) {
    const opened = (['positive', 'negative'] as const)
      .map((name) => ({
        name,
        change: contactorTrack(facts, name)?.changes.find(
          (c, i) =>
            i > 0 &&
            c.value === 0 &&
            c.atS > sequence.startS &&
            c.atS <= sequence.endS + 1e-6 &&
            !recloses(facts, name, c) &&
            !currentGoesOn(facts, c),
        ),
      }))
      .filter((each): each is { name: 'positive' | 'negative'; change: Change } => each.change !== undefined)
      .sort((a, b) => a.change.atS - b.change.atS)
    const first = opened[0]
    if (!first) continue
    found.push({ ...first, ...currentBefore(facts, first.change) })
  }
  return found
}

/** A contactor that is closed again within 60 ms bounced; it did not open. */
function recloses(facts: Facts, name: 'positive' | 'negative', opening: Change): boolean {
  return (
    contactorTrack(facts, name)?.changes.some(
      (c) => c.value === 1 && c.atS > opening.atS && c.atS - opening.atS <= 0.06,
    ) ?? false
  )
}

/** A contactor takes this long to open after its coil is off, arc included, s. Common practice, no source. */
const RELEASE_S = 0.15
/** This much current proves a path, A. Common practice, no source. */
const PATH_A = 5

/**
 * Does current flow on long after the contactor is read open? Then its reading opened, not the contactor: no current
 * passes an open one. At least three samples past the release time within the next second, and not all equal: a sender
 * that went silent leaves its last value standing.
 */
export function currentGoesOn(facts: Facts, opening: Change): boolean {
  const current = facts.once(packCurrent)
  if (!current) return false
  const fromS = opening.atS + RELEASE_S
  const seen = new Set<number>()
  let count = 0
  for (let i = 0; i < current.timeS.length && current.timeS[i]! <= opening.atS + 1; i++) {
    if (current.timeS[i]! < fromS || Number.isNaN(current.amperes[i]!)) continue
    if (Math.abs(current.amperes[i]!) < PATH_A) return false
    seen.add(current.amperes[i]!)
    count++
  }
  return count >= 3 && seen.size >= 2
}

/** Older than this a current sample says nothing of the opening, s. */
const REACH_S = 1.5

function currentBefore(facts: Facts, change: Change): { amperes: number; plusMinusA: number } {
  const current = facts.once(packCurrent)
  const none = { amperes: Number.NaN, plusMinusA: Number.NaN }
  if (!current) return none
  const { timeS, amperes } = current
  let i = timeS.length - 1
  while (i >= 0 && timeS[i]! > change.atS) i--
  // Inside the bracket of the opening the current may have collapsed already: step back to the last loaded sample.
  while (i > 0 && timeS[i]! > change.earliestS && Math.abs(amperes[i]!) < 3) i--
  while (i > 0 && Number.isNaN(amperes[i]!)) i--
  if (i < 0 || change.atS - timeS[i]! > REACH_S || !Number.isFinite(amperes[i])) return none
  const previous = amperes[i - 1]
  const moved = previous !== undefined && Number.isFinite(previous) ? Math.abs(amperes[i]! - previous) : 0
  return {
    amperes: amperes[i]!,
    plusMinusA: Math.abs(amperes[i]!) * (current.gainPercent / 100) + moved + (current.zeroPlusMinusA ?? 0.5),
  }
}
