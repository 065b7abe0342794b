import { packPower } from '../../car/pack-power.ts'
import { drivenSpeed, motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { integral } from '../../math/running-integral.ts'
import { rpmPerKmh } from './regen-limited.ts'

/** The motor turns, by some 190 rpm; no source. */
const TURNS_RAD_S = 20
/** Fewer windows do not part the losses; no source. */
const FEWEST_WINDOWS = 40

/** Battery power from motor torque and speed: P = c₀ + c₁ω + c₂Tω + c₃T² + c₄(Tω)², W; T drive positive. */
export interface DrivePower {
  watts(torqueNm: number, omega: number): number
  /** Least regeneration (N·m ≥ 0) that charges with so many watts; infinite where no torque does. */
  regenFor(chargeW: number, omega: number): number
  /** Spread of the fit over windows of a second, W, and the windows it rests on. */
  readonly spreadW: number
  readonly windows: number
  /** Pack's resistance as seen from terminal voltage over a second, Ω; 0 where it could not be read. */
  readonly packOhm: number
}

const WINDOW_S = 1

/**
 * Fitted over windows of a second by integrals (so the skew between torque and current does not bias it): c₀ what else
 * draws, c₁ idle losses, c₂ near 1, c₃ copper losses, c₄ losses of battery and cables outside the torque's sight.
 * Gives null without torque, motor or road speed, and battery power.
 */
export function drivePower(facts: Facts): DrivePower | null {
  const power = facts.once(packPower)
  const torque = facts.once(motorTorque)
  const speed = facts.once(drivenSpeed)
  const perKmh = facts.once(rpmPerKmh)
  if (!power || !torque || torque.from === 'power' || !speed || perKmh === null) return null
  const radPerKmh = (perKmh * 2 * Math.PI) / 60
  const omegaAt = sampled(speed.timeS, speed.values, torque.timeS).map((kmh) => Math.abs(kmh) * radPerKmh)
  const { nm, timeS } = torque
  const part = (of: (i: number) => number): ((at: number) => number) =>
    integral(
      timeS,
      nm.map((_, i) => of(i)),
      2,
    )
  const columns = [
    part(() => 1),
    part((i) => omegaAt[i]!),
    part((i) => nm[i]! * omegaAt[i]!),
    part((i) => nm[i]! * nm[i]!),
    part((i) => (nm[i]! * omegaAt[i]!) ** 2 / 1e5),
  ]
  const joules = integral(power.timeS, power.watts, 2)
  const amps = integral(power.timeS, power.amperes, 2)
  const volts = integral(power.timeS, power.volts, 2)
  const rows: number[][] = []
  const level: number[] = []
  const flow: number[] = []
  const end = timeS[timeS.length - 1] ?? 0
  const moving = part((i) => (omegaAt[i]! > TURNS_RAD_S ? 1 : 0))
  for (let from = timeS[0] ?? 0; from + WINDOW_S <= end; from += WINDOW_S) {
    const over = (of: (at: number) => number): number => of(from + WINDOW_S) - of(from)
    if (!(over(moving) > 0.9 * WINDOW_S)) continue
    const row = [over(joules), ...columns.map(over)]
    if (!row.every(Number.isFinite)) continue
    rows.push(row)
    level.push(over(volts))
    flow.push(over(amps))
  }
  if (rows.length < FEWEST_WINDOWS) return null
  const column = (j: number): Float64Array => Float64Array.from(rows, (row) => row[j]!)
  const fit = robustLeastSquares([1, 2, 3, 4, 5].map(column), column(0))
  if (!fit) return null
  const [c0, c1, c2, c3, c4] = fit.coefficients as unknown as [number, number, number, number, number]
  return {
    watts: (t, w) => c0 + c1 * w + c2 * t * w + c3 * t * t + (c4 * (t * w) ** 2) / 1e5,
    regenFor: (chargeW, w) => {
      // (c3 + c4 w²) T² − c2 w T + (c0 + c1 w + charge) = 0, smaller root
      const bend = c3 + (c4 * w * w) / 1e5
      const level = c0 + c1 * w + chargeW
      const root = (c2 * w) ** 2 - 4 * bend * level
      if (root < 0 || !(c2 * w > 0)) return Number.POSITIVE_INFINITY
      const nm = (2 * level) / (c2 * w + Math.sqrt(root))
      return Math.max(nm, 0)
    },
    spreadW: fit.spread / WINDOW_S,
    windows: rows.length,
    packOhm: stiffness(level, flow),
  }
}

/** −ΔV/ΔI between neighbouring windows, Ω ≥ 0. */
function stiffness(level: readonly number[], flow: readonly number[]): number {
  const dv = level.slice(1).map((value, i) => value - level[i]!)
  const di = flow.slice(1).map((value, i) => value - flow[i]!)
  const fit = robustLeastSquares([di], dv)
  return fit ? Math.max(0, -fit.coefficients[0]!) : 0
}

/** Values between samples at ascending moments, held at the ends. */
function sampled(timeS: Float64Array, values: Float64Array, atS: Float64Array): Float64Array {
  let at = 0
  return atS.map((moment) => {
    while (at + 1 < timeS.length && timeS[at + 1]! <= moment) at++
    const next = Math.min(at + 1, timeS.length - 1)
    const gap = timeS[next]! - timeS[at]!
    const share = gap > 0 ? Math.min(1, Math.max(0, (moment - timeS[at]!) / gap)) : 0
    return values[at]! + share * (values[next]! - values[at]!)
  })
}
