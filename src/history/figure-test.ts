import { biweightSpread } from '../math/biweight.ts'
import { discoveryBar } from '../math/false-discoveries.ts'
import { median } from '../math/stats.ts'
import { studentBelow } from '../math/student-t.ts'
import type { DriveFigure } from './figures.ts'

/** A figure against the same figure of other drives of the car, or of other cars. */
export interface FigureAmong {
  readonly figure: DriveFigure
  readonly middle: number
  readonly low: number
  readonly high: number
  /** This one less the middle, and the 95 % half width of what chance makes of that. */
  readonly above: number
  readonly plusMinus: number
  readonly distance: number
  /** 1: the highest of all. */
  readonly place: number
  readonly others: number
  readonly told: boolean
}

const HALF = 1.96
/** Fewer others have no spread worth the name. */
const FEWEST = 4
/** Biweight spread of n values is as good as about so large a share of n for the standard deviation. */
const AS_GOOD = 0.87

/**
 * Which figures stand apart from the same figures elsewhere (earlier drives, or other cars of the kit)?
 *
 * Model:  distance = (x − median) / s; s joins the others' robust spread with this figure's own error; chance by Student's t
 *         with the freedom that so few others leave; told by Benjamini and Yekutieli over all figures.
 * Blind:  with four others or fewer to all but the largest; to what all of them share.
 */
export function figuresAmong(
  own: readonly DriveFigure[],
  others: readonly (readonly DriveFigure[])[],
  share: number,
): FigureAmong[] {
  const rows = own.flatMap((figure) => {
    const values = others.flatMap((each) => each.filter(({ key }) => key === figure.key))
    if (values.length < FEWEST) return []
    const there = values.map(({ value }) => value)
    const middle = median(there)
    const known = median(values.map(({ plusMinus }) => plusMinus ?? 0)) / HALF
    const mine = (figure.plusMinus ?? 0) / HALF
    const spread = Math.max(biweightSpread(there), known, 1e-3 * Math.abs(middle))
    const error = Math.hypot(spread * Math.sqrt(1 + 1.57 / there.length), Math.max(0, mine - known))
    const above = figure.value - middle
    const freedom = Math.max(1, AS_GOOD * there.length - 1)
    return [
      {
        ...{ figure, middle, above, distance: above / error, plusMinus: HALF * error },
        ...{ low: Math.min(...there), high: Math.max(...there), others: there.length },
        place: 1 + there.filter((value) => value > figure.value).length,
        p: 2 * (1 - studentBelow(Math.abs(above) / error, freedom)),
      },
    ]
  })
  const bar = discoveryBar(
    rows.map(({ p }) => p),
    share,
  )
  return rows.map(({ p, ...row }) => ({ ...row, told: p <= bar }))
}
