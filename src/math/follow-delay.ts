/**
 * How much later one series does what another asks, s: as a pure shift or as a first-order lag, whichever leaves the
 * smaller mean absolute difference over the rows in use. Both series share one clock; a break in use starts the lag anew.
 *
 * @param use 1 for rows that count
 * @param periodS the usual time between rows: sets the grid (half a period), which a parabola refines
 */
export function followDelay(
  timeS: Float64Array,
  asked: Float64Array,
  given: Float64Array,
  use: Uint8Array,
  periodS: number,
  longestS = 2,
): { readonly delayS: number; readonly as: 'shift' | 'lag' } {
  const shift = lowest(
    (late) => shiftMisfit(timeS, asked, given, use, late),
    Math.max(0.005, periodS / 2),
    longestS,
  )
  const lag = lowest((tau) => lagMisfit(timeS, asked, given, use, tau), Math.max(0.01, periodS / 2), longestS)
  return lag.cost < shift.cost ? { delayS: lag.at, as: 'lag' } : { delayS: shift.at, as: 'shift' }
}

/** A first-order lag after `dt` in which its input went straight from `before` to `now`; exact. */
export function lagged(state: number, before: number, now: number, dt: number, lag: number): number {
  return laggedBy(state, before, now, dt, lag, Math.exp(-dt / lag))
}

/** The same where the decay exp(−dt / lag) is known. */
export function laggedBy(
  state: number,
  before: number,
  now: number,
  dt: number,
  lag: number,
  decay: number,
): number {
  const behind = ((now - before) / dt) * lag // how far the lag trails a ramp
  return now - behind + (state - before + behind) * decay
}

/** Lowest cost on a grid from 0 on, refined by the parabola through the lowest three; stops once it rises steadily. */
function lowest(cost: (at: number) => number, step: number, longest: number): { at: number; cost: number } {
  const costs: number[] = []
  let best = 0
  for (let at = 0; at <= longest; at += step) {
    costs.push(cost(at))
    if (costs[costs.length - 1]! < costs[best]!) best = costs.length - 1
    if (costs.length - best > 8 && costs[costs.length - 1]! > 1.3 * costs[best]!) break
  }
  const [left, centre, right] = [costs[best - 1], costs[best]!, costs[best + 1]]
  const bend = left !== undefined && right !== undefined ? left - 2 * centre + right : 0
  return { at: Math.max(0, (best + (bend > 0 ? (0.5 * (left! - right!)) / bend : 0)) * step), cost: centre }
}

function shiftMisfit(
  timeS: Float64Array,
  asked: Float64Array,
  given: Float64Array,
  use: Uint8Array,
  late: number,
): number {
  let sum = 0
  let count = 0
  let at = 0
  for (let i = 0; i < timeS.length; i++) {
    if (use[i] !== 1) continue
    const moment = timeS[i]! - late
    while (at + 1 < i && timeS[at + 1]! <= moment) at++
    const next = Math.min(at + 1, i)
    const gap = timeS[next]! - timeS[at]!
    const share = gap > 0 ? Math.min(1, Math.max(0, (moment - timeS[at]!) / gap)) : 0
    const then = late === 0 ? asked[i]! : asked[at]! + share * (asked[next]! - asked[at]!)
    const off = Math.abs(then - given[i]!)
    if (!Number.isFinite(off)) continue
    sum += off
    count++
  }
  return count > 0 ? sum / count : Number.POSITIVE_INFINITY
}

function lagMisfit(
  timeS: Float64Array,
  asked: Float64Array,
  given: Float64Array,
  use: Uint8Array,
  lag: number,
): number {
  let sum = 0
  let count = 0
  let state = Number.NaN
  for (let i = 1; i < timeS.length; i++) {
    if (use[i] !== 1) {
      state = Number.NaN
      continue
    }
    const dt = timeS[i]! - timeS[i - 1]!
    state =
      !Number.isFinite(state) || !(dt > 0)
        ? given[i]!
        : lag < 1e-3
          ? asked[i]!
          : lagged(state, asked[i - 1]!, asked[i]!, dt, lag)
    const off = Math.abs(state - given[i]!)
    if (!Number.isFinite(off)) continue
    sum += off
    count++
  }
  return count > 0 ? sum / count : Number.POSITIVE_INFINITY
}
