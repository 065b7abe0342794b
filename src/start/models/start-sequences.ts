import { motionChannel } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { voltages } from './precharge-voltages.ts'
import {
  type Change,
  type Held,
  type StartSignals,
  samplesIn,
  startSignals,
  stretches,
  type Track,
} from './start-signals.ts'

/** A link that never read more was never charged; no source. */
const LEAST_FULL_V = 30

/** One try to bring the link up: from the first contactor (or its trace) to the moment all is open again. */
export interface Sequence {
  readonly startS: number
  readonly endS: number
  /** The change that opened it all; null where the log ends first. */
  readonly opened: Change | null
  /** False where the log opens inside it. */
  readonly startSeen: boolean
  readonly seenBy: 'contactors' | 'battery unit' | 'link voltage' | 'drive ready' | 'movement'
}

/** Contactor bounce and sampling: shorter openings do not end a sequence, s. Common practice, no source. */
const BOUNCE_S = 0.06

interface Piece {
  startS: number
  endS: number
  opened: Change | null
  startSeen: boolean
}

/** Which main contactor closes before precharge: from the vehicle file, else the first, or only one, seen to close. */
export function firstMain(facts: Facts): 'negative' | 'positive' {
  const layout = facts.vehicle.precharge?.layout
  if (layout === 'negative') return 'positive'
  if (layout === 'positive') return 'negative'
  const { negative, positive } = facts.once(startSignals)
  const firstClose = (track: Track | null): number =>
    track?.changes.find((change, i) => i > 0 && change.value === 1)?.atS ?? Number.POSITIVE_INFINITY
  return firstClose(positive) < firstClose(negative) ? 'positive' : 'negative'
}

/** Every sequence of the log in order, by the best evidence that the log has. */
export function sequences(facts: Facts): Sequence[] {
  const signals = facts.once(startSignals)
  const { endS } = signals
  const closed = union(
    [signals.negative, signals.precharge, signals.positive]
      .filter((track) => track !== null && !alwaysClosed(track))
      .flatMap((track) => stretches(track, (v) => v === 1, endS).map(pieceOf)),
  )
  const byUnit = signals.bms ? stretches(signals.bms.track, signals.bms.closing, endS).map(pieceOf) : []
  const prechargeSeen =
    signals.precharge !== null ||
    signals.bms?.track.changes.some(({ value }) => signals.bms!.meaning(value) === 'precharge')
  const byLink = prechargeSeen ? [] : linkRises(facts)
  const byContactors =
    signals.negative === null && signals.positive === null
      ? beyondPrecharge(closed, byUnit.length > 0 ? byUnit : linkRises(facts), endS)
      : closed
  const named = (pieces: Piece[], seenBy: Sequence['seenBy']): Sequence[] =>
    pieces.map((piece) => ({ ...piece, seenBy }))
  if (byContactors.length + byUnit.length + byLink.length > 0) {
    const found = named(byContactors, 'contactors')
    const add = (more: Sequence[]): void => {
      for (const each of more)
        if (!found.some((known) => known.startS < each.endS + 0.5 && each.startS < known.endS + 0.5))
          found.push(each)
    }
    if (signals.precharge === null || found.length === 0) add(named(byUnit, 'battery unit'))
    if (signals.precharge === null || found.length === 0) add(named(byLink, 'link voltage'))
    return splitByPrecharge(
      found.sort((a, b) => a.startS - b.startS),
      signals,
    )
  }
  const contactorsSeen = signals.positive !== null || signals.negative !== null
  const ready = stretches(signals.ready, (v) => v === 1, endS)
  if (ready.length > 0) return named(ready.map(pieceOf), 'drive ready')
  const moved = movement(facts)
  if (!contactorsSeen && moved) return [{ ...moved, seenBy: 'movement' }]
  return []
}

/**
 * Where only the precharge contactor is logged its release is not the end: what else shows the chain whole carries
 * the sequence on, and without any such evidence it is left open to the next precharge.
 */
function beyondPrecharge(precharges: Piece[], others: Piece[], endS: number): Piece[] {
  if (others.length > 0) return union([...precharges, ...others])
  return precharges.map((each, i) => ({ ...each, endS: precharges[i + 1]?.startS ?? endS, opened: null }))
}

function pieceOf(held: Held): Piece {
  return {
    startS: held.startS,
    endS: held.endS,
    opened: held.to,
    startSeen: Number.isFinite(held.from.earliestS),
  }
}

function alwaysClosed(track: Track): boolean {
  return track.changes.every((change) => change.value === 1)
    ? track.changes.length === 1 && track.id.includes('negative')
    : false
}

/** Joins pieces that touch or overlap, openings shorter than a bounce left out. */
function union(pieces: Piece[]): Piece[] {
  const joined: Piece[] = []
  for (const piece of pieces.sort((a, b) => a.startS - b.startS || a.endS - b.endS)) {
    const last = joined.at(-1)
    if (last && piece.startS <= last.endS + BOUNCE_S) {
      if (piece.endS > last.endS || (piece.endS === last.endS && piece.opened === null)) {
        last.endS = piece.endS
        last.opened = piece.opened
      }
      last.startSeen &&= piece.startSeen || piece.startS > last.startS
    } else joined.push({ ...piece })
  }
  return joined
}

/** A main contactor that stays closed through several precharges: each precharge is a sequence of its own. */
function splitByPrecharge(found: readonly Sequence[], signals: StartSignals): Sequence[] {
  const precharges = stretches(signals.precharge, (v) => v === 1, signals.endS)
  const mains = [
    stretches(signals.positive, (v) => v === 1, signals.endS),
    stretches(signals.negative, (v) => v === 1, signals.endS),
  ]
  const bothClosed = (atS: number): boolean =>
    mains.every((main) => main.some((each) => each.startS <= atS && atS < each.endS))
  return found.flatMap((sequence) => {
    const inside = precharges.filter((each) => each.startS >= sequence.startS && each.startS < sequence.endS)
    const cuts = inside
      .slice(1)
      .filter((each, i) => !bothClosed(each.startS) && !bothClosed(inside[i]!.endS - 1e-9))
    if (cuts.length === 0) return [sequence]
    const bounds = [sequence.startS, ...cuts.map((cut) => cut.startS), sequence.endS]
    return bounds.slice(1).map((to, i) => {
      const last = i === bounds.length - 2
      const mine = inside.findLast((each) => each.startS < to && each.startS >= bounds[i]!)
      return {
        ...sequence,
        startS: bounds[i]!,
        endS: last ? to : (mine?.endS ?? to),
        opened: last ? sequence.opened : (mine?.to ?? null),
        startSeen: i === 0 ? sequence.startSeen : true,
      }
    })
  })
}

/** Stretches in which the link is up, from its rise to the start of its fall. */
function linkRises(facts: Facts): Piece[] {
  const link = facts.drive.channels.get('link_voltage')
  if (!link) return []
  const volts = facts.once(voltages)
  const { timeS, values } = samplesIn(link, 0, facts.drive.durationS)
  const top = values.reduce((a, b) => Math.max(a, b), 0)
  const fullV = Number.isFinite(volts.highestV) ? volts.highestV : top
  if (!(fullV > LEAST_FULL_V) || timeS.length < 2) return []
  const pieces: Piece[] = []
  let open: Piece | null = null
  let peak = 0
  let lowest = values[0]!
  for (let i = 0; i < timeS.length; i++) {
    const v = values[i]!
    if (!open) {
      lowest = Math.min(lowest, v)
      if (v < lowest + 0.05 * fullV && !(i === 0 && v > 0.6 * fullV)) continue
      open = {
        startS: timeS[Math.max(0, i - 1)]!,
        endS: timeS[i]!,
        opened: null,
        startSeen: i > 0,
      }
      peak = v
    } else if (v > peak) peak = v
    if (v < 0.9 * peak && v < 0.85 * fullV) {
      open.opened = { atS: timeS[i]!, earliestS: timeS[i - 1] ?? timeS[i]!, value: 0 }
      open.endS = timeS[i]!
      pieces.push(open)
      open = null
      lowest = v
    } else open.endS = timeS[i]!
  }
  if (open) pieces.push(open)
  return pieces
}

/** From the first to the last moment at which the car moves; null where it never does or nothing shows its motion. */
export function movement(facts: Facts, fromS = 0, toS = facts.drive.durationS): Piece | null {
  const { timeS, values, moves } = motionIn(facts, fromS, toS)
  const first = values.findIndex((v, i) => moves(v) && moves(values[i + 1] ?? 0))
  const last = values.findLastIndex(moves)
  if (first < 0) return null
  return {
    startS: timeS[first]!,
    endS: timeS[last]!,
    opened: null,
    startSeen: first > 0 && !moves(values[first - 1]!),
  }
}

export function speedChannel(facts: Facts) {
  return facts.drive.channels.get('speed') ?? facts.drive.channels.get('wheel_speed.1')
}

/** What shows the car's motion in a stretch (road speed, wheels, else the motor's speed), and which value is motion. */
export function motionIn(
  facts: Facts,
  fromS: number,
  toS: number,
): { timeS: Float64Array; values: Float64Array; moves: (value: number) => boolean } {
  const shown = motionChannel(facts.drive.channels)
  const above = shown?.movingAbove ?? 0
  const { timeS, values } = samplesIn(shown?.channel, fromS, toS)
  return { timeS, values, moves: (value) => Math.abs(value) > above }
}
