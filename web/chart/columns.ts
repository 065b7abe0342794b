import type { WindowPoints } from '../api.ts'

/** What the plotting library takes: shared x, then a column a line; `undefined` = no point here, null = a break. */
export type PlotColumns = [number[], ...(number | null | undefined)[][]]

/**
 * Lines with their own times, put on one shared, rising x. A line has no point (undefined) at another's moments and
 * is drawn straight through; its own NaN becomes null, which breaks it.
 *
 *     a  0   10  20        x  0 5 10 15 20
 *     b    5    15    →    a  · ─ ·  ─  ·      ─ undefined
 *                          b  ─ · ─  ·  ─
 */
export function sharedColumns(lines: readonly (WindowPoints | undefined)[]): PlotColumns {
  const real = lines.map((line) => line ?? { timeS: new Float64Array(0), values: new Float32Array(0) })
  if (real.length === 1) {
    const [line] = real
    return [Array.from(line!.timeS), Array.from(line!.values, (v) => (Number.isNaN(v) ? null : v))]
  }
  const same = real.every((line) => sameTimes(line.timeS, real[0]!.timeS))
  if (same)
    return [
      Array.from(real[0]?.timeS ?? []),
      ...real.map((line) => Array.from(line.values, (v) => (Number.isNaN(v) ? null : v))),
    ]
  const at = real.map(() => 0)
  const x: number[] = []
  const ys: (number | null | undefined)[][] = real.map(() => [])
  for (;;) {
    let next = Number.POSITIVE_INFINITY
    for (let i = 0; i < real.length; i++) {
      const t = real[i]!.timeS[at[i]!]
      if (t !== undefined && t < next) next = t
    }
    if (next === Number.POSITIVE_INFINITY) return [x, ...ys]
    x.push(next)
    for (let i = 0; i < real.length; i++) {
      const { timeS, values } = real[i]!
      if (timeS[at[i]!] === next) {
        const value = values[at[i]!++]!
        ys[i]!.push(Number.isNaN(value) ? null : value)
      } else ys[i]!.push(undefined)
    }
  }
}

/** A stretch over which a switch or state kept one value. */
export interface Band {
  readonly fromS: number
  readonly toS: number
  readonly value: number
}

/** Runs of one value, each until the next sample of another; a break (null) ends a run, a moment without sample does not. */
export function bandsOf(x: readonly number[], line: readonly (number | null | undefined)[]): Band[] {
  const out: { fromS: number; toS: number; value: number }[] = []
  let run: { fromS: number; toS: number; value: number } | null = null
  for (let i = 0; i < x.length; i++) {
    const value = line[i]
    if (run) run.toS = x[i]!
    if (value === undefined || (run && value === run.value)) continue
    run = value === null ? null : { fromS: x[i]!, toS: x[i]!, value }
    if (run) out.push(run)
  }
  return out
}

function sameTimes(a: Float64Array, b: Float64Array): boolean {
  if (a.length !== b.length) return false
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false
  return true
}
