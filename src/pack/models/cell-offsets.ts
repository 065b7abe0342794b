import type { Limit } from '../../../shared/limits.ts'
import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { cellPeers } from './cell-peers.ts'
import { type CellRest, cellRest } from './cell-rest.ts'

/** A sense lead that reads off: one cell up, its neighbour down by the same, at any current. */
export interface SensePair {
  /** The lower-numbered cell. */
  readonly cell: number
  /** Offset of the lower cell, V. */
  readonly offsetV: number
  readonly error: number
  /** How much better one lead explains it than two imbalanced neighbours, natural logarithm. */
  readonly logRatio: number
  /** The same at rest, V; null without a rest. */
  readonly atRestV: number | null
}

export interface Imbalance {
  readonly cell: number
  readonly offsetV: number
  /** Standard error of the cause: reading and the peers' own spread. */
  readonly error: number
}

export interface CellOffsets {
  readonly rest: CellRest
  readonly pairs: readonly SensePair[]
  readonly imbalances: readonly Imbalance[]
  /** Standard error of the cause for a usual cell, V. */
  readonly usualError: number
}

/** How far two imbalanced neighbours might each stand off, before looking, V. */
const IMBALANCE_RANGE_V = 0.025
const LOOK = 5
const MANY_NOTES = 3
/** Two neighbours out of balance, the opposite way, are that much rarer than one lead: common practice, no source. */
const PRICE_OF_TWO = Math.log(0.02)

/**
 * Which offsets belong to a sense lead and which to a cell's charge.
 *
 * A lead that reads e volts off lifts one cell by e and lowers the next by e: their sum stays as in the peers. Two
 * cells out of balance side by side have no reason to cancel. The ratio of the two is that of the sum's densities:
 * spread of the peers · √2 against 25 mV · √2, and 50 to 1 for one fault instead of two. Two witnesses are heard: the
 * offsets without current at the drive's middle charge, where a fit exists, and those at rest; the one that speaks
 * more clearly counts. What no pair explains is imbalance, read at rest.
 */
export function cellOffsets(facts: Facts): CellOffsets | null {
  const rest = facts.once(cellRest)
  if (!rest) return null
  const peers = facts.once(cellPeers)
  const atRest = new Map(rest.cells.map((each) => [each.cell, each]))
  const restError = (error: number): number => Math.hypot(error, rest.spreadV)
  const byRest = rest.cells.map((each) => ({
    cell: each.cell,
    volts: each.offsetV,
    error: restError(each.error),
  }))
  const byFit = (peers?.cells ?? []).map((each) => ({
    cell: each.estimate.cell,
    volts: each.offset.value,
    error: each.offset.error,
  }))
  const pairs: SensePair[] = []
  const candidates = [...opposites(byFit), ...opposites(byRest)]
    .filter((pair) => Math.abs(pair.offsetV) > worthV(facts.limits.senseLead))
    .map((pair): SensePair => {
      const a = atRest.get(pair.cell)
      const b = atRest.get(pair.cell + 1)
      return { ...pair, atRestV: a && b && rest.from !== 'fit' ? (a.offsetV - b.offsetV) / 2 : null }
    })
  const taken = new Set<number>()
  for (const pair of candidates.sort((a, b) => b.logRatio - a.logRatio)) {
    if (taken.has(pair.cell) || taken.has(pair.cell + 1) || pair.logRatio < 0) continue
    pairs.push(pair)
    taken.add(pair.cell).add(pair.cell + 1)
  }
  const imbalances = rest.cells
    .filter((each) => !taken.has(each.cell))
    .map((each) => ({ cell: each.cell, offsetV: each.offsetV, error: restError(each.error) }))
    .filter((each) => Math.abs(each.offsetV) > Math.max(LOOK * each.error, worthV(facts.limits.restOffset)))
  return {
    rest,
    pairs: fewNotes(pairs, facts.limits.senseLead),
    imbalances: fewNotes(imbalances, facts.limits.restOffset),
    usualError: restError(median(rest.cells.map((each) => each.error))),
  }
}

/** From half the attention limit on an offset is worth a note, V. */
function worthV({ attention }: Limit): number {
  return (attention ?? 0) / 2e3
}

/** Offsets under the limit are noted where they are few; many small ones at once are a balancer's doing, not leads'. */
function fewNotes<T extends { readonly offsetV: number }>(
  all: readonly T[],
  { attention }: Limit,
): readonly T[] {
  const past = all.filter((each) => Math.abs(each.offsetV) > (attention ?? 0) / 1e3)
  return all.length - past.length > MANY_NOTES ? past : all
}

interface Witness {
  readonly cell: number
  readonly volts: number
  readonly error: number
}

/** Neighbours that stand off in opposite directions by amounts that can be the same. */
function opposites(all: readonly Witness[]): Omit<SensePair, 'atRestV'>[] {
  return all.flatMap((lower, at) => {
    const upper = all[at + 1]
    if (!upper || upper.cell !== lower.cell + 1 || lower.volts * upper.volts >= 0) return []
    const error = Math.hypot(lower.error, upper.error)
    const size = (lower.volts - upper.volts) / 2
    const sum = lower.volts + upper.volts
    if (Math.abs(size) < (LOOK * error) / 2 || Math.abs(sum) > 4 * error + 0.15 * Math.abs(size)) return []
    if (Math.min(Math.abs(lower.volts), Math.abs(upper.volts)) < 3 * lower.error) return []
    const loose = Math.hypot(error, Math.SQRT2 * IMBALANCE_RANGE_V)
    const logRatio =
      Math.log(loose / error) - 0.5 * (sum / error) ** 2 + 0.5 * (sum / loose) ** 2 - PRICE_OF_TWO
    return [{ cell: lower.cell, offsetV: size, error: error / 2, logRatio }]
  })
}
