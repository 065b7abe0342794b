import { median } from '../math/stats.ts'
import type { Message } from './captured.ts'

/** How often a message comes and how evenly. */
export interface Timing {
  /** Frames a second; null where it came once. */
  readonly rateHz: number | null
  readonly periodS: number | null
  /** Usual deviation of a spacing from the period, s; null where it is sent now and then. */
  readonly jitterS: number | null
}

export function timingOf({ timeS, count }: Message): Timing {
  if (count < 2) return { rateHz: null, periodS: null, jitterS: null }
  const lasted = timeS[count - 1]! - timeS[0]!
  const rateHz = lasted > 0 ? (count - 1) / lasted : null
  const step = Math.max(1, Math.floor(count / 4000))
  const gaps: number[] = []
  for (let i = step; i < count; i += step) gaps.push(timeS[i]! - timeS[i - 1]!)
  const period = median(gaps)
  const off = median(gaps.map((gap) => Math.abs(gap - period)))
  const steady = gaps.filter((gap) => Math.abs(gap - period) < 0.5 * period).length > 0.7 * gaps.length
  return { rateHz, periodS: steady ? period : null, jitterS: steady ? off : null }
}

/** Messages whose moments keep the same distance come from one clock: one control unit, usually. */
const TOGETHER_S = 0.0015
const LEAST = 30

/**
 * Groups of messages that share a sender, guessed from phase: two steady messages of one period (or a whole multiple)
 * whose distance in time stays the same belong together. Clocks of two units drift apart by some ppm: over minutes that is
 * milliseconds. Blind: messages sent on events; gateways, which send what others made.
 * @returns a number for each message, −1 where nothing tells
 */
export function sendersOf(messages: readonly Message[], timings: readonly Timing[]): number[] {
  const groups = new Array<number>(messages.length).fill(-1)
  const leaders: number[] = []
  messages.forEach((message, m) => {
    const { periodS } = timings[m]!
    if (periodS === null || message.count < LEAST) return
    const found = leaders.findIndex((leader) =>
      keepsDistance(messages[leader]!, message, timings[leader]!.periodS!),
    )
    if (found >= 0) groups[m] = found
    else groups[m] = leaders.push(m) - 1
  })
  return groups
}

function keepsDistance(a: Message, b: Message, periodS: number): boolean {
  const distances: number[] = []
  const step = Math.max(1, Math.floor(b.count / 300))
  let i = 0
  for (let j = 0; j < b.count; j += step) {
    const t = b.timeS[j]!
    while (i + 1 < a.count && a.timeS[i + 1]! <= t) i++
    const distance = t - a.timeS[i]!
    if (distance >= 0 && distance < 1.2 * periodS) distances.push(distance)
  }
  if (distances.length < LEAST / 2) return false
  const middle = median(distances)
  return median(distances.map((each) => Math.abs(each - middle))) < Math.min(TOGETHER_S, 0.05 * periodS)
}
