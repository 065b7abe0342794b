import type { CellRow, Review } from '../../shared/review.ts'
import { biweightSpread } from '../math/biweight.ts'
import { median } from '../math/stats.ts'

/** What one drive says of every cell of a pack, ready to stand beside other drives of the car, or other cars of the kit. */
export interface PackReading {
  /** Resistance of the typical cell, mΩ: how warm and charged the pack was. */
  readonly typicalMohm: number
  readonly windowS: number
  readonly cells: ReadonlyMap<number, CellReading>
}

export interface CellReading {
  readonly cell: number
  readonly module: number
  /** Resistance above the typical cell, less what its module has in common, mΩ. */
  readonly extraMohm: number
  /** Standard error by this cell's own fit, mΩ. */
  readonly error: number
  /** Its resistance over the typical cell's. */
  readonly size: number
  /** What its extra is made of, as the review tells it. */
  readonly made: 'cell' | 'metal' | 'mixed' | 'weak'
}

const FEWEST = 8
const HALF = 1.96
const METAL = /\bjoint\b(?!-)|\btap\b|\bbusbar\b/
const MIXED = /joint-and-weak/
const WEAK = /^weak|^open/

/** null where the review tells no resistances. */
export function packReading(review: Pick<Review, 'cells'>): PackReading | null {
  const rows = review.cells.filter((each) => each.resistance_mohm !== null)
  if (rows.length < FEWEST) return null
  const typical = median(rows.map((each) => each.resistance_mohm!))
  const shared = modulesShare(rows, typical)
  const cells = rows.map((row): CellReading => {
    const repeats = row.resistance_mohm_repeats ?? row.resistance_mohm_plus_minus ?? 0
    return {
      cell: row.index,
      module: row.module,
      extraMohm: row.resistance_mohm! - typical - shared(row.module),
      error: repeats / HALF,
      size: row.resistance_mohm! / typical,
      made: madeOf(row.class ?? ''),
    }
  })
  return {
    typicalMohm: typical,
    windowS: median(rows.map((each) => each.resistance_window_s ?? 0)),
    cells: new Map(cells.map((each) => [each.cell, each])),
  }
}

const madeOf = (word: string): CellReading['made'] =>
  WEAK.test(word) ? 'weak' : MIXED.test(word) ? 'mixed' : METAL.test(word) ? 'metal' : 'cell'

/** What the cells of a module have in common above the pack, mΩ; nothing where too few are known to part it. */
function modulesShare(rows: readonly CellRow[], typical: number): (module: number) => number {
  return commonOf(
    rows,
    ({ module }) => module,
    ({ resistance_mohm }) => resistance_mohm! - typical,
    0,
  )
}

/** The middle of each module's values where six or more are known, else `otherwise` (left out: the middle of all). */
export function commonOf<T>(
  all: readonly T[],
  moduleOf: (each: T) => number,
  value: (each: T) => number,
  otherwise?: number,
): (module: number) => number {
  const whole = otherwise ?? (all.length > 0 ? median(all.map(value)) : 0)
  const inside = new Map<number, number[]>()
  for (const each of all) inside.set(moduleOf(each), [...(inside.get(moduleOf(each)) ?? []), value(each)])
  return (module) => {
    const own = inside.get(module) ?? []
    return own.length >= 6 ? median(own) : whole
  }
}

/** How much the cells of a pack differ of their own, mΩ at the warmth of that drive. */
export const ownSpread = ({ cells }: PackReading): number =>
  biweightSpread([...cells.values()].filter(({ made }) => made === 'cell').map((each) => each.extraMohm))
