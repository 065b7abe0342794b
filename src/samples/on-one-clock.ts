import type { Channel } from '../../shared/drive.ts'

/** What the readers below need of a channel: any samples on a rising time base. */
export type Samples = Pick<Channel, 'timeS' | 'values'>

/**
 * Index of the last sample at or before `atS`; −1 where there is none. Binary search.
 */
export function indexAt(timeS: ArrayLike<number>, atS: number): number {
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle]! <= atS) low = middle + 1
    else high = middle
  }
  return low - 1
}

/**
 * The channel's last value at each moment (sample and hold): for switches, codes and held rows.
 * NaN before the first sample and where the last sample is older than `maxAgeS`.
 */
export function heldAt(
  channel: Samples,
  atS: ArrayLike<number>,
  maxAgeS = Number.POSITIVE_INFINITY,
): Float64Array {
  const out = new Float64Array(atS.length).fill(Number.NaN)
  const { timeS, values } = channel
  let at = 0
  for (let i = 0; i < atS.length; i++) {
    const moment = atS[i]!
    while (at < timeS.length && timeS[at]! <= moment) at++
    if (at > 0 && moment - timeS[at - 1]! <= maxAgeS) out[i] = values[at - 1]!
  }
  return out
}

/**
 * The channel between its samples, by a straight line: for voltages, currents, speeds. NaN outside the channel and
 * across gaps longer than `maxGapS`. Biased by up to half the sample spacing where the value steps between samples.
 */
export function linearAt(
  channel: Samples,
  atS: ArrayLike<number>,
  maxGapS = Number.POSITIVE_INFINITY,
): Float64Array {
  const out = new Float64Array(atS.length).fill(Number.NaN)
  const { timeS, values } = channel
  let at = 0
  for (let i = 0; i < atS.length; i++) {
    const moment = atS[i]!
    while (at < timeS.length && timeS[at]! < moment) at++
    if (at < timeS.length && timeS[at] === moment) out[i] = values[at]!
    else if (at > 0 && at < timeS.length) {
      const gap = timeS[at]! - timeS[at - 1]!
      if (gap > maxGapS) continue
      const share = (moment - timeS[at - 1]!) / gap
      out[i] = values[at - 1]! + share * (values[at]! - values[at - 1]!)
    }
  }
  return out
}

/** Typical time between samples: the median spacing, in seconds; NaN under two samples. */
export function samplePeriod(timeS: ArrayLike<number>): number {
  const n = timeS.length
  if (n < 2) return Number.NaN
  const stride = Math.max(1, Math.floor((n - 1) / 4096))
  const found = new Float64Array(Math.ceil(n / stride))
  let count = 0
  for (let i = stride; i < n; i += stride) {
    const spacing = timeS[i]! - timeS[i - 1]!
    if (spacing > 0) found[count++] = spacing
  }
  if (count === 0) return Number.NaN
  return found.subarray(0, count).sort()[count >> 1]!
}

/**
 * How old a channel's last value may be before it says nothing, s: five of its own periods, at least 5 s. A channel
 * that was only written when it changed (no two samples in a row alike) keeps its value: Infinity.
 */
export function staleAfter({ timeS, values }: Samples): number {
  let alike = false
  for (let i = 1; i < values.length && !alike; i++) alike = values[i] === values[i - 1]
  return alike ? Math.max(5, 5 * samplePeriod(timeS)) : Number.POSITIVE_INFINITY
}
