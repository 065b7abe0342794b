import type { CellRow, Review } from '../../shared/review.ts'
import { biweightSpread } from '../math/biweight.ts'
import { median, quantile } from '../math/stats.ts'

/** How a cell's reading changed from an earlier drive to a later one of the same car, against its peers' change. */
export interface CellGrowth {
  readonly cell: number
  /** Resistance that came in addition, joint or cell, mΩ; 95 % half width. */
  readonly changeMohm: number
  readonly plusMinus: number
  /** Beyond what chance makes of the whole pack's cells once in some hundred drives. */
  readonly certain: boolean
}

export interface PackGrowth {
  readonly cells: readonly CellGrowth[]
  /** The typical cell's resistance then and now, mΩ: warmth and charge make most of the difference. */
  readonly typicalMohm: readonly [number, number]
  /** Smallest growth of a cell like its peers that would have shown 9 times in 10, mΩ. */
  readonly smallestMohm: number
}

const FEWEST = 8
/** Of 100 cells one passes this many standard errors by chance in some hundred drives. */
const CLEAR = 4.5
/** Less is never called a growth, however quiet the logs, mΩ. */
const LEAST_MOHM = 0.01
/** Half of the 95 %, and the quantile that 9 of 10 pass. */
const HALF = 1.96
const NINE_OF_TEN = 1.2816
/** Nine of ten sizes of normal values lie under so many standard deviations; strays that are many widen all. */
const NORMAL_90 = 1.645
/** How far the gain of one and the same current sensor wanders between drives, as a share (standard error): no source. */
const DRIFT = 0.005
/** Time scales of the two figures may differ by this factor and still be the same figure. */
const SAME_WINDOW = 3
/** Metal keeps its resistance from drive to drive; a cell's own goes with the pack's warmth and charge. */
const METAL = /\bjoint\b(?!-)|\btap\b/
/** Part metal, part cell. */
const MIXED = /joint-and-weak/
/** Spreads of the peers from which on an extra is metal (a long busbar, a joint under its limit), or may be. */
const METAL_FROM = 3
const MIXED_FROM = 1
/** Share of a weak cell's extra that may be metal all the same (standard error): common practice, no source. */
const WEAK_METAL = 0.15

/**
 * How much every cell's reading grew between two drives of one car.
 *
 * Model:  growth = e₂ − e₁ − (q − 1) · own, e the resistance above the pack's typical cell of its drive, less what its
 *         module has in common. Metal (joint, tap, long busbar) stays as it is; what a cell has of its own goes with the
 *         ratio q of the typical cells (a warmer pack has less of everything).
 * Error:  the robust spread of the growth over all cells: what differs from drive to drive for reasons of their own
 *         counts whatever it is. The cells' lasting differences (2 to 3 % of their resistance), which bound what one drive
 *         can say, are gone. A joint's heat, the sensor's drift and the part of a mixed cause that may be metal or cell
 *         are added.
 * Needs:  resistances in both reviews, over about the same time scale; null without.
 * Blind:  growth that a whole module or the whole pack shares.
 */
export function cellGrowth(before: Review, after: Review): PackGrowth | null {
  const earlier = new Map(before.cells.map((each) => [each.index, each]))
  const pairs = after.cells.flatMap((now) => {
    const old = earlier.get(now.index)
    return old && known(old) && known(now) && sameWindow(old, now) ? [{ old, now }] : []
  })
  if (pairs.length < FEWEST) return null
  const typical = (of: (pair: Pair) => number): number => median(pairs.map(of))
  const thenMohm = typical(({ old }) => old.resistance_mohm!)
  const nowMohm = typical(({ now }) => now.resistance_mohm!)
  const ratio = nowMohm / thenMohm
  const then = extrasOf(
    pairs.map(({ old }) => old),
    thenMohm,
  )
  const now = extrasOf(
    pairs.map((pair) => pair.now),
    nowMohm,
  )
  // the cells' lasting differences of their own, long busbars out
  const own = biweightSpread(
    pairs.flatMap(({ old }) => (TOLD.test(old.class ?? '') ? [old.joint_extra_mohm!] : [])),
  )
  const rough = pairs.map((pair) => {
    const kind = madeOf(pair, then, own)
    return {
      ...pair,
      ...kind,
      growth: now(pair.now) - then(pair.old) - kind.cell * (ratio - 1) * kind.extra,
    }
  })
  const level = levels(rough)
  const growths = rough.map((each) => each.growth - level(each.now.module))
  const sizes = growths.map(Math.abs)
  const spread = Math.max(biweightSpread(growths), quantile(sizes, 0.9) / NORMAL_90)
  // the usual cell's fit error is in the spread already
  const usual = typical(repeats)
  const warmth = Math.abs(ratio - 1)
  const cells = rough.map((each, at): CellGrowth => {
    const { old, now } = each
    const changeMohm = growths[at]!
    const error = Math.hypot(
      // what spreads the growth of all cells spreads a larger resistance in proportion
      spread * Math.max(1, old.resistance_mohm! / thenMohm, now.resistance_mohm! / nowMohm),
      Math.sqrt(Math.max(0, repeats(each) ** 2 - usual ** 2)),
      DRIFT * Math.max(Math.abs(each.extra), Math.abs(each.extra + changeMohm)),
      ...byWarmth(each, own, warmth),
    )
    return {
      cell: now.index,
      changeMohm,
      plusMinus: HALF * error,
      certain: Math.abs(changeMohm) > Math.max(CLEAR * error, LEAST_MOHM),
    }
  })
  return {
    cells,
    typicalMohm: [thenMohm, nowMohm],
    smallestMohm: Math.max(CLEAR * spread, LEAST_MOHM) + NINE_OF_TEN * spread,
  }
}

/** What of a cell's extra is metal and what its own: its size, whether it is metal or may be, the share that is the cell's. */
function madeOf(
  { old, now }: Pair,
  then: (row: CellRow) => number,
  own: number,
): { extra: number; metal: boolean; mixed: boolean; cell: number } {
  const word = old.class ?? ''
  const told = TOLD.test(word)
  const extra = told ? old.joint_extra_mohm! : then(old)
  // what stands out from the peers without being a weak cell is metal, whether it passed a limit or not
  const out = told ? Math.abs(extra) / own : 0
  const metal = METAL.test(word) || out > METAL_FROM
  const both = !metal && MIXED.test(`${word} ${now.class}`)
  const mixed = both || (!metal && out > MIXED_FROM)
  return { extra, metal, mixed, cell: metal ? 0 : both ? 0.5 : 1 }
}

/** What the packs' different warmth leaves open of a cell's growth, mΩ: metal keeps its resistance, a cell's own does not. */
function byWarmth(
  { old, now, extra, metal, mixed }: Pair & ReturnType<typeof madeOf>,
  own: number,
  warmth: number,
): [number, number, number] {
  return [
    metal || METAL.test(now.class ?? '') ? own * warmth : 0,
    mixed ? (warmth * Math.abs(extra)) / 2 : 0,
    // how much of a weak cell's reading is a long busbar in it is not known
    TOLD.test(old.class ?? '') ? 0 : WEAK_METAL * warmth * Math.abs(extra),
  ]
}

interface Pair {
  readonly old: CellRow
  readonly now: CellRow
}

/** Standard error of the growth by the fits alone, mΩ. */
const repeats = ({ old, now }: Pair): number =>
  Math.hypot(old.resistance_mohm_repeats ?? 0, now.resistance_mohm_repeats ?? 0) / HALF

const known = (cell: CellRow): boolean => cell.resistance_mohm !== null && cell.joint_extra_mohm !== null

function sameWindow({ resistance_window_s: a }: CellRow, { resistance_window_s: b }: CellRow): boolean {
  if (!a || !b) return false
  return Math.max(a, b) < SAME_WINDOW * Math.min(a, b) || Math.max(a, b) < 1
}

/** Resistance of one drive's cells above the typical cell, less what their module shares, mΩ: long busbars stay in it. */
function extrasOf(rows: readonly CellRow[], typicalMohm: number): (row: CellRow) => number {
  const above = (row: CellRow): number => row.resistance_mohm! - typicalMohm
  const shared = (module: number): number => {
    const inside = rows.filter((each) => each.module === module && TOLD.test(each.class ?? ''))
    return inside.length > 0 ? median(inside.map((each) => above(each) - each.joint_extra_mohm!)) : 0
  }
  return (row) => above(row) - shared(row.module)
}

/** Classes whose whole extra is in `joint_extra_mohm`. */
const TOLD = /^(?!weak|open|joint-and-weak)/

/** The growth that all cells of a module share (six or more known), else the whole pack's. */
function levels(
  all: readonly { readonly now: CellRow; readonly growth: number }[],
): (module: number) => number {
  const whole = median(all.map((each) => each.growth))
  const members = new Map<number, number[]>()
  for (const { now, growth } of all) members.set(now.module, [...(members.get(now.module) ?? []), growth])
  return (module) => {
    const own = members.get(module) ?? []
    return own.length >= 6 ? median(own) : whole
  }
}
