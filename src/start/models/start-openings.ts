import { packCurrent } from '../../car/pack-current.ts'
import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { voltages } from './precharge-voltages.ts'
import { sequences } from './start-sequences.ts'
import { type Change, contactorTrack, samplesIn } from './start-signals.ts'

/** A contact that closes again so soon bounced, or its reading did; no source. */
const BOUNCE_S = 0.06
/** Fewer current readings show nothing of the moment; no source. */
const FEWEST_READINGS = 3
/** No more than a sensor's zero; no source. */
const NO_CURRENT_A = 3

/** A main contactor opening, and the current it broke. */
export interface Opening {
  /** `main`: the link left the pack, which of the two opened is not seen. */
  readonly name: 'positive' | 'negative' | 'main'
  readonly change: Change
  /** Last pack current before it collapsed, A, discharge positive; NaN where none is logged close enough. */
  readonly amperes: number
  readonly plusMinusA: number
}

/**
 * Every main contactor's opening at the end of a sequence, the first of a pair that opens together; and what link
 * voltage and current show where no contactor does.
 */
export function openings(facts: Facts): Opening[] {
  const logged = byContactors(facts)
  const near = (atS: number): boolean => logged.some(({ change }) => Math.abs(change.atS - atS) < SAME_S)
  return [...logged, ...byLink(facts).filter(({ change }) => !near(change.atS))].sort(
    (a, b) => a.change.atS - b.change.atS,
  )
}

/** A contactor that reads open within this of the link's leaving is the same opening, s. */
const SAME_S = 2

function byContactors(facts: Facts): Opening[] {
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
      (c) => c.value === 1 && c.atS > opening.atS && c.atS - opening.atS <= BOUNCE_S,
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
  return count >= FEWEST_READINGS && seen.size >= 2
}

/** Older than this a current sample says nothing of the opening, s. */
const REACH_S = 1.5

/**
 * The last current before the opening: that of the sample before the one that already reads open. Inside the bracket
 * the current may have collapsed already: then the last sample that still carried it.
 */
function currentBefore(facts: Facts, change: Change): { amperes: number; plusMinusA: number } {
  const current = facts.once(packCurrent)
  const none = { amperes: Number.NaN, plusMinusA: Number.NaN }
  if (!current) return none
  const { timeS, amperes } = current
  let i = timeS.length - 1
  while (i >= 0 && timeS[i]! >= change.atS) i--
  while (i > 0 && timeS[i]! > change.earliestS && Math.abs(amperes[i]!) < NO_CURRENT_A) i--
  while (i > 0 && Number.isNaN(amperes[i]!)) i--
  if (i < 0 || change.atS - timeS[i]! > REACH_S || !Number.isFinite(amperes[i])) return none
  const previous = amperes[i - 1]
  const moved = previous !== undefined && Number.isFinite(previous) ? Math.abs(amperes[i]! - previous) : 0
  return {
    amperes: amperes[i]!,
    plusMinusA: Math.abs(amperes[i]!) * (current.gainPercent / 100) + moved + (current.zeroPlusMinusA ?? 0.5),
  }
}

/** From over this to nothing within a sample: no throttle lets go so fast, A (the contract). */
const CARRIED_A = 20
const GONE_A = 3
/**
 * The link stood within this share of the pack while it was joined, and has left it by this share after. Common
 * practice, no source.
 */
const JOINED = 0.07
const LEFT = 0.05
/** The link is watched for this long after, s; nothing may flow meanwhile. */
const WATCH_S = 3

/** The link leaves the pack's voltage while the current goes from over 20 A to nothing within a sample. */
function byLink(facts: Facts): Opening[] {
  const current = facts.once(packCurrent)
  const link = facts.drive.channels.get('link_voltage')
  if (!current || !link) return []
  const { timeS, amperes } = current
  const volts = facts.once(voltages)
  const found: Opening[] = []
  for (let i = 1; i < timeS.length; i++) {
    const [before, after, atS] = [amperes[i - 1]!, amperes[i]!, timeS[i]!]
    if (!(Math.abs(before) > CARRIED_A && Math.abs(after) < GONE_A)) continue
    const packV = volts.packV(atS - 1, atS - 1e-6)
    const joined = samplesIn(link, atS - 1, timeS[i - 1]!).values.at(-1)
    const later = samplesIn(link, atS, atS + WATCH_S).values.map((v) => v / volts.linkRatio)
    if (joined === undefined || later.length < 2 || !(packV > LIVE_V)) continue
    const wasJoined = Math.abs(joined / volts.linkRatio - packV) < JOINED * packV
    // A load let go lets a joined link rise; one that sinks and stays away was left alone.
    const least = Math.min(joined / volts.linkRatio, packV)
    const stays = later.at(-1)! < (1 - LEFT) * least && later.at(-1)! <= later[0]! + 0.01 * packV
    if (!wasJoined || !stays || flowsIn(timeS, amperes, atS, atS + WATCH_S)) continue
    const change: Change = { atS, earliestS: timeS[i - 1]!, value: 0 }
    found.push({ name: 'main', change, ...currentBefore(facts, change) })
  }
  return found
}

function flowsIn(timeS: ArrayLike<number>, amperes: ArrayLike<number>, fromS: number, toS: number): boolean {
  for (let i = 0; i < timeS.length && timeS[i]! <= toS; i++)
    if (timeS[i]! >= fromS && Math.abs(amperes[i]!) > PATH_A) return true
  return false
}
