import { correlation } from '../math/correlation.ts'
import { median, quantile, standardDeviation } from '../math/stats.ts'
import type { Candidate } from './candidates.ts'
import { longestGap, onGrid, POINTS } from './grid.ts'

/** A candidate on the common grid, with what its movement looks like. */
export interface Seen {
  readonly candidate: Candidate
  readonly grid: Float64Array
  /** Movement from grid point to grid point. */
  readonly steps: Float64Array
  readonly low: number
  readonly high: number
  readonly middle: number
  readonly spread: number
}

export type Propose = (
  seen: Seen,
  channel: string,
  factor: number,
  offset: number,
  sureness: number,
  why: string,
  otherwise?: string | null,
) => void

export function seenOnGrid(candidates: readonly Candidate[]): Seen[] {
  let from = Number.POSITIVE_INFINITY
  let to = Number.NEGATIVE_INFINITY
  for (const { timeS } of candidates) {
    from = Math.min(from, timeS[0]!)
    to = Math.max(to, timeS[timeS.length - 1]!)
  }
  return candidates.map((candidate) => {
    const grid = onGrid(candidate.timeS, candidate.raw, from, to, POINTS, longestGap(candidate.timeS))
    const steps = new Float64Array(POINTS).fill(Number.NaN)
    for (let p = 2; p + 2 < POINTS; p++) steps[p] = grid[p + 2]! - grid[p - 2]!
    return {
      candidate,
      grid,
      steps,
      low: quantile(grid, 0.002),
      high: quantile(grid, 0.998),
      middle: median(grid),
      spread: standardDeviation(grid),
    }
  })
}

export const form = ({ candidate: { place } }: Seen): string => `${place.length}/${place.byteOrder}`
export const r2 = (x: Float64Array, y: Float64Array): number => {
  const { r } = correlation(x, y)
  return Number.isFinite(r) ? r * r : 0
}

/** Of the round factors the one whose result is nearest to what is usual, in octaves from it; null where none is near. */
export function usualFactor(
  factors: readonly number[],
  value: number,
  usual: number,
  octaves: number,
): number | null {
  const near = factors
    .map((factor) => ({ factor, far: Math.abs(Math.log2((value * factor) / usual)) }))
    .sort((a, b) => a.far - b.far)[0]
  return near && near.far <= octaves ? near.factor : null
}

export function stepsOf(grid: Float64Array): Float64Array {
  const steps = new Float64Array(grid.length).fill(Number.NaN)
  for (let p = 2; p + 2 < grid.length; p++) steps[p] = grid[p + 2]! - grid[p - 2]!
  return steps
}

export interface Pack {
  readonly seen: Seen
  readonly factor: number
  readonly off: number
  readonly volts: Float64Array
}
