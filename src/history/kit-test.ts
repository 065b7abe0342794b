import { biweightSpread } from '../math/biweight.ts'
import { discoveryBar } from '../math/false-discoveries.ts'
import { median } from '../math/stats.ts'
import { studentBelow } from '../math/student-t.ts'
import { commonOf, ownSpread, type PackReading } from './cell-series.ts'
import { FALSE_SHARE } from './change-test.ts'

/** How a cell's reading stands among the same place in the other cars of the kit. */
export interface CellAmong {
  readonly cell: number
  /** Above the middle of the others, mΩ, and the 95 % half width of what chance makes of that. */
  readonly aboveMohm: number
  readonly plusMinus: number
  /** In spreads of the others. */
  readonly distance: number
  /** 1: the highest of all, this car counted. */
  readonly place: number
  readonly cars: number
  readonly unlike: boolean
}

export interface PackAmong {
  readonly cells: readonly CellAmong[]
  readonly cars: number
  readonly smallestMohm: number
}

/** With fewer others a place among them says little (contract: three siblings or fewer). */
export const FEWEST_OTHERS = 4
const HALF = 1.96
/** The spread over all places counts as much as so many cars' spread at one place: our choice, no source. */
const POOLED = 20
const CLEAR = 4.5

/**
 * Which cells of this pack are unlike the same places of the kit's other cars?
 *
 * Model:  e the resistance above the pack's typical cell less its module's; every other car's drive brought to this one's
 *         warmth and charge by its typical cell (own differences go with it). Distance = (e − median of the others' e) over
 *         the spread of such distances: of the cells' own differences pooled over all places of all cars, since a dozen
 *         cars have no spread of their own worth the name, or weighed with that place's own.
 * Gives:  distance, place and `unlike` by Benjamini and Yekutieli over all places.
 * Blind:  what all cars of the kit share; with three others or fewer nothing is called unlike.
 */
export function unlikeOthers(pack: PackReading, others: readonly PackReading[]): PackAmong | null {
  if (others.length === 0) return null
  // cells of their own differ in proportion: all at this pack's warmth
  const extras = others.map(({ cells, typicalMohm }) => {
    const warmth = pack.typicalMohm / typicalMohm
    return new Map(
      [...cells.values()].map(({ cell, extraMohm, made }) => [
        cell,
        made === 'cell' ? warmth * extraMohm : extraMohm,
      ]),
    )
  })
  const raw = [...pack.cells.values()].flatMap((own) => {
    const there = extras.flatMap((each) => (each.has(own.cell) ? [each.get(own.cell)!] : []))
    if (there.length < Math.min(FEWEST_OTHERS, others.length)) return []
    const middle = median(there)
    return [{ own, there, middle, above: own.extraMohm - middle }]
  })
  if (raw.length < 8) return null
  const common = commonOf(
    raw,
    ({ own }) => own.module,
    ({ above }) => above,
  )
  const rough = raw.map((each) => ({ ...each, above: each.above - common(each.own.module) }))
  const between = biweightSpread(rough.flatMap(({ there, middle }) => there.map((each) => each - middle)))
  const spread = Math.max(between, ownSpread(pack), biweightSpread(rough.map(({ above }) => above)))
  const freedom = Math.max(5, 0.7 * rough.length)
  const tested = rough.map((each) => {
    const k = each.there.length
    // the median of k values is known to about 1.25 spreads over √k
    const place = Math.sqrt((POOLED * spread ** 2 + k * biweightSpread(each.there) ** 2) / (POOLED + k))
    const error = Math.max(place, 0.5 * spread) * Math.sqrt(1 + 1.57 / k)
    return { ...each, error, p: 2 * (1 - studentBelow(Math.abs(each.above) / error, freedom)) }
  })
  const bar =
    others.length < FEWEST_OTHERS
      ? -1
      : discoveryBar(
          tested.map(({ p }) => p),
          FALSE_SHARE,
        )
  return {
    cars: others.length + 1,
    smallestMohm: (CLEAR + 1.2816) * median(tested.map(({ error }) => error)),
    cells: tested.map(({ own, there, above, error, p }) => ({
      cell: own.cell,
      aboveMohm: above,
      plusMinus: HALF * error,
      distance: above / error,
      place: 1 + there.filter((each) => each > own.extraMohm).length,
      cars: there.length + 1,
      unlike: p <= bar,
    })),
  }
}
