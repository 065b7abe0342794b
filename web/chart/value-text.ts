import type { ChannelInfo } from '../../shared/api.ts'
import { numberText } from '../../shared/wording.ts'
import type { WindowPoints } from '../api.ts'
import { wordOf } from './draw-over.ts'

/** The last value read at or before this moment; null where there is none, or the line is broken there. */
export function valueAt(points: WindowPoints | undefined, atS: number | null): number | null {
  if (!points || atS === null) return null
  const { timeS, values } = points
  let [low, high] = [0, timeS.length]
  while (low < high) {
    const middle = (low + high) >> 1
    if (timeS[middle]! <= atS) low = middle + 1
    else high = middle
  }
  const value = values[low - 1]
  return value === undefined || Number.isNaN(value) ? null : value
}

/** Thinned out, a point is the lowest or highest of its neighbours: then the value is about right. */
const about = (points: WindowPoints | undefined) => (points?.thinned ? '≈ ' : '')

/** A channel's value at the cursor as its key shows it: four digits, or the word of a switch or state. */
export function valueText(
  { kind, labels }: ChannelInfo,
  points: WindowPoints | undefined,
  atS: number | null,
): string {
  const value = valueAt(points, atS)
  if (value === null) return ''
  if (kind === 'number') return `${about(points)}${numberText(value, 4)}`
  return wordOf({ words: kind === 'code' ? (labels ?? []) : null }, value)
}

/** What changed from mark A to mark B; empty where either is missing or the channel is no number. */
export function changeText(
  { kind }: ChannelInfo,
  points: WindowPoints | undefined,
  markA: number | null,
  markB: number | null,
): string {
  const [a, b] = [valueAt(points, markA), valueAt(points, markB)]
  if (kind !== 'number' || a === null || b === null) return ''
  return `${about(points)}${b >= a ? '+' : ''}${numberText(b - a, 4)}`
}
