import type { Span } from '../../../shared/units.ts'
import { duration, insideEach, spansWhere } from '../../math/spans.ts'
import { median } from '../../math/stats.ts'

/** How a lamp went along with what it should have done. */
export interface LampCourse {
  /** Dark though it must be lit, lit though it must be dark; ascending. */
  readonly dark: readonly Span[]
  readonly needless: readonly Span[]
  /** Median time from the moment it must be lit until it is, s; null under three such moments. */
  readonly lateS: number | null
  /** Presses (or times in reverse) of at least a second in which it was lit, went dark and came again. */
  readonly flickers: readonly { readonly span: Span; readonly darkS: number; readonly times: number }[]
  /** It never changed, though it must have been lit and dark for long: what it read all through. */
  readonly stuckAt: 0 | 1 | null
}

/** Shorter stretches of "lit" are too short to flicker in, s; no source. */
const LEAST_LIT_S = 1
/** A stuck lamp must have been wanted lit so often, and lit and dark so long, s; no source. */
const FEWEST_WANTED = 2
const LEAST_WANTED_S = 3
const FEWEST_STARTS = 3

/**
 * @param wanted 1 lit, 0 dark, NaN either; on the grid
 * @param lit 1, 0, NaN not known; on the grid
 */
export function lampCourse(grid: Float64Array, wanted: Float64Array, lit: Float64Array): LampCourse {
  const disagrees = (want: 0 | 1): Span[] =>
    spansWhere(grid, (i) => wanted[i] === want && lit[i] === 1 - want)
  const on = spansWhere(grid, (i) => wanted[i] === 1)
  const off = spansWhere(grid, (i) => wanted[i] === 0)
  const known = lit.filter((each) => !Number.isNaN(each))
  const constant = known.length > 0 && known.every((each) => each === known[0])
  const wantedBoth = on.length >= FEWEST_WANTED && Math.min(duration(on), duration(off)) >= LEAST_WANTED_S
  return {
    dark: disagrees(1),
    needless: disagrees(0),
    lateS: lateness(grid, on, lit),
    flickers: on.filter(([from, to]) => to - from > LEAST_LIT_S).flatMap((span) => flicker(grid, lit, span)),
    stuckAt: constant && wantedBoth ? (known[0] === 1 ? 1 : 0) : null,
  }
}

function lateness(grid: Float64Array, on: readonly Span[], lit: Float64Array): number | null {
  const delays = on.flatMap(([from, to]) => {
    const first = grid.findIndex((t) => t >= from)
    if (first <= 0 || lit[first - 1] !== 0) return []
    let at = first
    while (at < grid.length && grid[at]! < to && lit[at] === 0) at++
    return lit[at] === 1 ? [grid[at]! - from] : []
  })
  return delays.length >= FEWEST_STARTS ? median(delays) : null
}

/** Lit, dark and lit again while it must be lit all along. */
function flicker(grid: Float64Array, lit: Float64Array, span: Span): LampCourse['flickers'] {
  const inside = insideEach([span], grid)
  const gaps = spansWhere(grid, (i) => inside[i] === 1 && lit[i] === 0).filter(
    ([from, to]) => from > span[0] + 1e-9 && to < span[1] - 1e-9 && lit[grid.findIndex((t) => t >= to)] === 1,
  )
  const [first] = spansWhere(grid, (i) => inside[i] === 1 && lit[i] === 1)
  // a lamp that follows late shows the release before this press in its first second
  const real = gaps.filter(
    ([from]) => first !== undefined && from > Math.max(first[0], span[0] + LEAST_LIT_S),
  )
  if (real.length === 0) return []
  return [{ span, darkS: Math.max(...real.map(([from, to]) => to - from)), times: real.length }]
}
