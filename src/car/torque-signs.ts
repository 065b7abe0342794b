import type { Channel } from '../../shared/drive.ts'
import { UNDER_WAY_KMH } from '../drive/motion.ts'
import type { Facts } from '../facts/facts.ts'
import { correlation } from '../math/correlation.ts'
import { slidingSlope } from '../math/sliding-line.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { linearAt } from '../samples/on-one-clock.ts'
import { packPower } from './pack-power.ts'
import { accelerator, acceleratorAt } from './pedal-travel.ts'

/** Torque and its request run opposite to each other: which of the two the log has turned, or the motor itself. */
export interface TorqueSigns {
  /** Correlation of both as logged, at no lag. */
  readonly r: number
  /** `torque`, `request`: the log's sign of it is turned. `motor`: the motor acts against its request. null: undecided. */
  readonly turned: 'torque' | 'torque_request' | 'motor' | null
  readonly why: string
}

/** Nearer to −1 than this, the two tell the same with the other sign. */
const OPPOSITE = -0.9
/** Witnesses agree or disagree past this correlation; between, they say nothing. Common practice, no source. */
const SAYS = 0.4
const SAMPLES = 6000
const LEAST_PAIRS = 100

/**
 * Decides by what torque does: it draws power from the battery and speeds the car up where it is positive.
 *
 *     torque · power > 0 and torque · acceleration > 0     torque is logged the right way round
 *
 * Then the accelerator tells whether the request or the motor is the one that runs the other way.
 * Null where torque and request are not both logged, or do not run opposite.
 * Biased by: hills (acceleration) and what else draws on the battery (power): both must agree.
 */
export function torqueSigns(facts: Facts): TorqueSigns | null {
  const { channels } = facts.drive
  const torque = channels.get('torque')
  const request = channels.get('torque_request')
  if (!torque || !request) return null
  const timeS = thinned(freshSamples(request).timeS)
  const nm = linearAt(freshSamples(torque), timeS, 1)
  const asked = linearAt(freshSamples(request), timeS, 1)
  const { r, pairs } = correlation(asked, nm)
  if (!(r < OPPOSITE) || pairs < LEAST_PAIRS) return null
  const speed = channels.get('speed') ?? channels.get('wheel_speed.1') ?? channels.get('motor_speed')
  const kmh = speed ? linearAt(speed, timeS, 2) : null
  const rolling = (values: Float64Array): Float64Array =>
    values.map((value, i) => (kmh && Math.abs(kmh[i]!) > UNDER_WAY_KMH ? value : Number.NaN))
  const gain = speed ? correlation(rolling(nm), rateOf(speed, timeS)).r : Number.NaN
  const power = facts.once(packPower)
  const drawn = power
    ? correlation(nm, linearAt({ timeS: power.timeS, values: power.watts }, timeS, 2)).r
    : Number.NaN
  const figures = `torque against battery power ${says(drawn)}, against acceleration ${says(gain)}`
  if (drawn < -SAYS && gain < -SAYS) return { r, turned: 'torque', why: figures }
  if (!(drawn > SAYS && gain > SAYS)) return { r, turned: null, why: figures }
  const pedal = facts.once(accelerator)
  const foot = pedal ? correlation(acceleratorAt(pedal, timeS), asked).r : Number.NaN
  const all = `${figures}; request against accelerator ${says(foot)}`
  return { r, turned: foot < -SAYS ? 'torque_request' : foot > SAYS ? 'motor' : null, why: all }
}

const says = (r: number): string => (Number.isFinite(r) ? r.toFixed(2) : 'not logged')

function thinned(timeS: Float64Array): Float64Array {
  const stride = Math.max(1, Math.ceil(timeS.length / SAMPLES))
  return stride === 1 ? timeS : timeS.filter((_, i) => i % stride === 0)
}

function rateOf(speed: Channel, atS: Float64Array): Float64Array {
  const { timeS, values } = freshSamples(speed)
  return linearAt({ timeS, values: slidingSlope(timeS, values.map(Math.abs), 0.5) }, atS, 2)
}
