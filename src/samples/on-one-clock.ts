import type { Channel } from '../../shared/drive.ts'
import { selectInPlace } from '../math/select.ts'

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
  moments: ArrayLike<number>,
  maxAgeS = Number.POSITIVE_INFINITY,
): Float64Array {
  const atS = moments instanceof Float64Array ? moments : new Float64Array(moments)
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
  moments: ArrayLike<number>,
  maxGapS = Number.POSITIVE_INFINITY,
): Float64Array {
  const atS = moments instanceof Float64Array ? moments : new Float64Array(moments)
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
  return selectInPlace(found, count >> 1, 0, count - 1)
}

/**
 * How old a channel's last value may be before it says nothing, s: five of its own periods, at least 5 s. A channel
 * that was only written when it changed (no two samples in a row alike, or `writtenOnChange`) keeps its value: Infinity.
 */
export function staleAfter(channel: Samples): number {
  const { timeS, values } = channel
  let alike = false
  for (let i = 1; i < values.length && !alike; i++) alike = values[i] === values[i - 1]
  return alike && !writtenOnChange(channel) ? Math.max(5, 5 * samplePeriod(timeS)) : Number.POSITIVE_INFINITY
}

/** A pause this many times the usual spacing is one in which nothing changed, or one in which nothing came. */
const PAUSE_TIMES = 10
const LEAST_PAUSES = 5
const QUIET_SHARE = 0.8
const ALIKE_SHARE = 0.05

/**
 * Was the channel written only when it changed (a dead band, now and then a sign of life)? Then it pauses often, stands
 * after nearly every pause where it stood before, and hardly ever repeats itself from one sample to the next. A sender
 * that fell silent pauses once or twice and comes back elsewhere.
 */
export function writtenOnChange({ timeS, values }: Samples): boolean {
  const usualS = samplePeriod(timeS)
  if (!(usualS > 0) || values.length < 2 * LEAST_PAUSES) return false
  let pauses = 0
  let alike = 0
  let steps = 0
  let moved = 0
  for (let i = 1; i < values.length; i++) {
    const step = Math.abs(values[i]! - values[i - 1]!)
    if (timeS[i]! - timeS[i - 1]! > PAUSE_TIMES * usualS) pauses++
    else if (step === 0) alike++
    else if (step > 0) {
      steps++
      moved += step
    }
  }
  if (pauses < LEAST_PAUSES || alike > ALIKE_SHARE * values.length || steps === 0) return false
  let quiet = 0
  for (let i = 1; i < values.length; i++)
    if (
      timeS[i]! - timeS[i - 1]! > PAUSE_TIMES * usualS &&
      Math.abs(values[i]! - values[i - 1]!) <= (2 * moved) / steps
    )
      quiet++
  return quiet >= QUIET_SHARE * pauses
}
