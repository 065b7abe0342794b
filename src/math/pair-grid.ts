/** Pairs counted in a grid: each cell that has any, its middle, how many, and their mean moment. */
export interface PairGrid {
  readonly x: number[]
  readonly y: number[]
  readonly count: number[]
  readonly atS: number[]
  readonly samples: number
}

/** Counts pairs in `cells` × `cells` over their own range, so that a single outlier still shows. NaN passed over. */
export function pairGrid(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  timeS: ArrayLike<number>,
  cells = 120,
): PairGrid {
  let [xLow, xHigh, yLow, yHigh] = [Infinity, -Infinity, Infinity, -Infinity]
  for (let i = 0; i < x.length; i++) {
    const [a, b] = [x[i]!, y[i]!]
    if (Number.isNaN(a) || Number.isNaN(b)) continue
    if (a < xLow) xLow = a
    if (a > xHigh) xHigh = a
    if (b < yLow) yLow = b
    if (b > yHigh) yHigh = b
  }
  const xStep = (xHigh - xLow) / cells || 1
  const yStep = (yHigh - yLow) / cells || 1
  const found = new Map<number, { count: number; x: number; y: number; t: number }>()
  let samples = 0
  for (let i = 0; i < x.length; i++) {
    const [a, b] = [x[i]!, y[i]!]
    if (Number.isNaN(a) || Number.isNaN(b)) continue
    samples++
    const key = Math.round((a - xLow) / xStep) * (cells + 2) + Math.round((b - yLow) / yStep)
    const cell = found.get(key) ?? { count: 0, x: 0, y: 0, t: 0 }
    cell.count++
    cell.x += a
    cell.y += b
    cell.t += timeS[i]!
    found.set(key, cell)
  }
  const all = [...found.values()]
  return {
    x: all.map((cell) => cell.x / cell.count),
    y: all.map((cell) => cell.y / cell.count),
    count: all.map((cell) => cell.count),
    atS: all.map((cell) => cell.t / cell.count),
    samples,
  }
}
