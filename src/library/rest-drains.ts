import type { CellRow, Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { biweightSpread } from '../math/biweight.ts'
import { median } from '../math/stats.ts'
import { openCircuit, slopeAt, socAt } from '../pack/models/open-circuit.ts'

/** How one cell's voltage at rest moved beside its peers between two drives. */
export interface RestDrain {
  readonly cell: number
  /** Falling is positive, mV a day at the charge of the later rest. */
  readonly mvDay: number
  /** Standard error of the cause, mV a day. */
  readonly error: number
  /** It stands above the others still: a balancer may have bled it. */
  readonly above: boolean
}

export interface PackDrains {
  readonly days: number
  readonly cells: readonly RestDrain[]
  /** Standard error of a usual cell, mV a day. */
  readonly usualError: number
  /** Later rest, V. */
  readonly medianV: number
  /** Charge of the later rest less that of the earlier one, by the curve, %; null without a curve. */
  readonly chargedPercent: number | null
  /** Volt per percent at the later rest, and whether the curve is an iron phosphate's flat one. */
  readonly slopeV: number | null
  readonly flat: boolean
}

/** Fewer cells have no peers. */
const LEAST_CELLS = 6
/** Rests closer than this differ by what is left of driving, days. Common practice, no source. */
export const LEAST_DAYS = 0.25
/** A weak cell's capacity may be so far under the others': charge taken out parts it from them. No source. */
const OTHER_CAPACITY = 0.12
/** Between rests at unlike charge the curve turns an offset into another one; the fit over the peers misses this share. */
const OTHER_SLOPE = 0.15
/** Offsets of these classes are readings, not charge. */
const NO_CHARGE = new Set(['sense-lead', 'frozen', 'invalid', 'tap'])
/** Rounds of the robust line, and what it leaves aside, in spreads. */
const ROUNDS = 8
const ASIDE = 3

/**
 * Which cells fell beside their peers between the rests of two drives, whatever charge was moved in between?
 *
 * Model:  offset now = g · offset then − s · days + error, offsets against the median cell; g, the same for all cells, is
 *         what another place on the open-circuit curve makes of an offset (a robust line through the peers).
 * Reads:  rest_offset_mv of both reviews' cells, their rests, their starts by the clock.
 * Gives:  s of each cell, mV a day, with the error of the cause: spread of the peers, both readings, what g may miss of a
 *         cell that stood off, and what a weak cell's smaller capacity makes of charge taken out.
 * Blind:  a fall that all cells share; charge on the flat part of an iron phosphate curve; a cell that a balancer bled.
 * null where the two cannot be compared.
 */
export function restDrains(earlier: Review, now: Review, vehicle: Vehicle): PackDrains | null {
  const then = restOf(earlier)
  const later = restOf(now)
  if (!then || !later) return null
  const days = (later.atS - then.atS) / 86400
  if (!(days >= LEAST_DAYS)) return null
  const before = new Map(earlier.cells.map((each) => [each.index, each]))
  const pairs = now.cells.flatMap((each) => {
    const own = before.get(each.index)
    return own && usable(own) && usable(each)
      ? [
          {
            cell: each.index,
            x: own.rest_offset_mv!,
            y: each.rest_offset_mv!,
            error: readingError(own, each),
          },
        ]
      : []
  })
  if (pairs.length < LEAST_CELLS) return null
  const { slope: g, middle } = robustLine(pairs)
  const left = pairs.map(({ x, y }) => y - g * x - middle)
  const spread = biweightSpread(left)
  const curve = openCircuit(vehicle, later.medianV)
  const slopeV = curve ? slopeAt(curve, later.medianV) : null
  const chargedPercent = curve ? socAt(curve, later.medianV) - socAt(curve, then.medianV) : null
  const taken =
    chargedPercent === null || slopeV === null
      ? 0
      : OTHER_CAPACITY * Math.max(0, -chargedPercent) * slopeV * 1e3
  const cells = pairs.map(
    ({ cell, x, y, error }, at): RestDrain => ({
      cell,
      mvDay: -left[at]! / days,
      error: Math.hypot(spread, error, OTHER_SLOPE * Math.abs(x), taken / 3) / days,
      above: y > 0,
    }),
  )
  return {
    days,
    cells,
    usualError: median(cells.map((each) => each.error)),
    medianV: later.medianV,
    chargedPercent,
    slopeV,
    flat: curve?.flatLfp ?? false,
  }
}

/** When a review's cells rested, s since 1970, at which median voltage; null where they did not, or nobody knows when. */
function restOf({ cell_rest: rest, drive }: Review): { atS: number; medianV: number } | null {
  if (!rest || rest.from === 'fit' || drive.started_at === null) return null
  return { atS: Date.parse(drive.started_at) / 1e3 + rest.span_s[1], medianV: rest.median_v }
}

const usable = (row: CellRow): boolean => row.rest_offset_mv !== null && !NO_CHARGE.has(row.class ?? '')

const readingError = (a: CellRow, b: CellRow): number =>
  Math.hypot(a.rest_offset_mv_plus_minus ?? 0, b.rest_offset_mv_plus_minus ?? 0) / 1.96

/** Slope and level through the peers, what stands far off left aside, weights by distance (biweight). */
function robustLine(points: readonly { readonly x: number; readonly y: number }[]) {
  let slope = 1
  let middle = median(points.map(({ x, y }) => y - x))
  for (let round = 0; round < ROUNDS; round++) {
    const left = points.map(({ x, y }) => y - slope * x - middle)
    const wide = ASIDE * Math.max(biweightSpread(left), 0.05)
    let [n, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0]
    points.forEach(({ x, y }, at) => {
      const u = left[at]! / wide
      if (Math.abs(u) >= 1) return
      const w = (1 - u * u) ** 2
      n += w
      sx += w * x
      sy += w * y
      sxx += w * x * x
      sxy += w * x * y
    })
    const apart = sxx - (sx * sx) / n
    // offsets that hardly differ tell no slope; 1 mV² of belief in an unchanged one
    slope = (sxy - (sx * sy) / n + 1) / (apart + 1)
    middle = (sy - slope * sx) / n
  }
  return { slope, middle }
}
