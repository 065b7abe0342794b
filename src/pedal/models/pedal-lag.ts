import { contactorState } from '../../car/contactor-state.ts'
import { accelerator } from '../../car/pedal-travel.ts'
import { motorTorque, requestedTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { followDelay } from '../../math/follow-delay.ts'
import { slidingSlope } from '../../math/sliding-line.ts'
import { insideEach } from '../../math/spans.ts'
import { quantile } from '../../math/stats.ts'
import { linearAt, samplePeriod } from '../../samples/on-one-clock.ts'

/** Fewer moments tell no lag; no source. */
const FEWEST_ROWS = 100
/** No regeneration asked for, but for noise; no source. */
const DRIVES_NM = 2

/** How long the motor's torque stays behind what was asked of it. */
export interface PedalLag {
  readonly lagS: number
  readonly plusMinusS: number
  /** What torque was compared with. */
  readonly against: 'torque_request' | 'pedal'
}

const GRID_S = 0.02
const LONGEST_S = 2
/** Slower logs cannot tell, s. */
export const LAG_SLOWEST_S = 0.21
const LEAST_CORRELATION = 0.4
/** Drive torque has to be asked for, and for so long, before anything can be late: a parked car shows noise only. */
const ASKED_NM = 10
const ASKED_S = 5

/**
 * Against the torque request, driving only (regeneration has limits of its own): the shift or first-order lag that
 * leaves the smallest difference (`followDelay`).
 * Without one, against the accelerator, whose map to torque need not be known: the shift with the highest correlation of
 * both rates of change (straight line over ± two samples); a first-order lag shows there as less than its time constant.
 * Moments with the contactors open are left out.
 * Gives null without torque and one of the two, under 5 Hz, with drive torque hardly asked for, or where the two
 * hardly follow each other.
 */
export function pedalLag(facts: Facts): PedalLag | null {
  const torque = facts.once(motorTorque)
  const request = facts.once(requestedTorque)
  const pedal = facts.once(accelerator)
  if (torque?.from !== 'torque' || torque.sign === 'unsigned') return null
  const asked = request
    ? { timeS: request.timeS, values: request.nm }
    : pedal
      ? { timeS: pedal.timeS, values: pedal.percent }
      : null
  if (!asked) return null
  const slowest = Math.max(samplePeriod(torque.timeS), samplePeriod(asked.timeS))
  if (!(slowest <= LAG_SLOWEST_S)) return null
  const end = Math.min(torque.timeS[torque.timeS.length - 1]!, asked.timeS[asked.timeS.length - 1]!)
  const from = Math.max(torque.timeS[0]!, asked.timeS[0]!)
  const step = Math.max(GRID_S, slowest / 2)
  const n = Math.min(60000, Math.floor((end - from) / step))
  if (n < FEWEST_ROWS) return null
  const grid = Float64Array.from({ length: n }, (_, i) => from + i * step)
  const template = facts.drive.channels.get('torque')!
  const half = Math.max(2.1 * slowest, 0.05)
  if (request) {
    const given = linearAt({ ...template, timeS: torque.timeS, values: torque.nm }, grid, 1)
    const wanted = linearAt({ ...template, ...asked }, grid, 1)
    const asking = wanted.reduce((count, nm) => count + (nm > ASKED_NM ? 1 : 0), 0) * step
    if (asking < ASKED_S) return null
    const apart = facts.once(contactorState).of('open')
    const open = insideEach(apart, grid)
    const use = Uint8Array.from(grid, (_, i) =>
      wanted[i]! > -DRIVES_NM && Number.isFinite(given[i]!) && open[i] === 0 ? 1 : 0,
    )
    const { delayS } = followDelay(grid, wanted, given, use, step)
    return { lagS: delayS, plusMinusS: Math.max(slowest, step), against: 'torque_request' }
  }
  const rate = (of: { timeS: Float64Array; values: Float64Array }): Float64Array =>
    slidingSlope(grid, linearAt({ ...template, ...of }, grid, 1), half)
  const given = rate({ timeS: torque.timeS, values: torque.nm })
  const wanted = rate(asked)
  const busy = quantile(wanted.map(Math.abs), 0.8)
  const steps = Math.round(LONGEST_S / step)
  const found: number[] = []
  for (let k = 0; k <= steps; k++) found.push(correlation(wanted, given, k, busy))
  const best = found.indexOf(Math.max(...found))
  if (!(found[best]! > LEAST_CORRELATION)) return null
  const [left, centre, right] = [found[best - 1], found[best]!, found[best + 1]]
  const bend = left !== undefined && right !== undefined ? left - 2 * centre + right : 0
  return {
    lagS: Math.max(0, (best + (bend < 0 ? (0.5 * (left! - right!)) / bend : 0)) * step),
    plusMinusS: Math.max(slowest, step),
    against: 'pedal',
  }
}

/** Correlation of a[i] with b[i + shift] where a is busy. */
function correlation(a: Float64Array, b: Float64Array, shift: number, busy: number): number {
  let ab = 0
  let aa = 0
  let bb = 0
  for (let i = 0; i + shift < a.length; i++) {
    const x = a[i]!
    const y = b[i + shift]!
    if (!(Math.abs(x) > busy) || !Number.isFinite(y)) continue
    ab += x * y
    aa += x * x
    bb += y * y
  }
  return aa > 0 && bb > 0 ? ab / Math.sqrt(aa * bb) : Number.NaN
}
