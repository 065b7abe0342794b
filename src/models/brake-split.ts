import type { Facts } from '../analyses/analysis.ts'
import { indexAt, samplePeriod } from '../drive/on-one-clock.ts'
import { nonlinearFit } from '../math/nonlinear-fit.ts'
import { robustLeastSquares } from '../math/robust-least-squares.ts'
import { brakeTrace } from './brake-trace.ts'
import { drivenSpeed, motorTorque } from './regen-torque.ts'

/** What slows the car, per unit, as the drive shows it. All in m/s² of deceleration. */
export interface BrakeSplit {
  /** m/s² per N·m at the motor: the car's effective inertia, gear and wheel in one figure. */
  readonly perNm: number
  readonly perNmPlusMinus: number
  /** m/s² of friction per unit of press (bar or %); null where it cannot be told from regeneration. */
  readonly perPress: number | null
  readonly perPressPlusMinus: number | null
  /** Road load: rolling m/s², and m/s² per (km/h)². */
  readonly roll: number
  readonly rollPlusMinus: number
  readonly drag: number
  readonly dragPlusMinus: number
  /** Spread of what the model does not explain over one window, m/s²: mostly slope of the road. */
  readonly spread: number
  readonly windowS: number
  readonly windows: number
  /** Why friction is not separable; null where it is. */
  readonly notSeparable: string | null
}

const WINDOW_S = 1
/** Windows of the same stretch share its slope: so many seconds count as one witness. */
const BLOCK_S = 10
const SLOWEST_KMH = 4

/**
 * Model, over windows of a second in which the car moves forward:
 *     v(end) − v(start) = perNm · ∫T dt − perPress · ∫p dt − roll · Δt − drag · ∫v² dt
 * Integrals, not derivatives, so noise and small clock skew of the speed do not bias it. Fitted robustly; the interval
 * counts ten seconds as one witness (the road's slope is not known and lasts).
 * Torque is the inverter's estimate: only its error between driving and regenerating matters to friction, and enters
 * the interval with `torque_error_percent` of the regenerative share.
 * Friction is separable only where regeneration varies at equal pressure (fade, ceiling, limits) or driving fixes
 * `perNm`; else `notSeparable` says so. Gives null without speed and torque, or where the car hardly moves.
 */
export function brakeSplit(facts: Facts): BrakeSplit | null {
  const trace = facts.once(brakeTrace)
  const speed = drivenSpeed(facts)
  const torque = facts.once(motorTorque)
  if (!trace || !speed || !torque || torque.sign === 'unsigned') return null
  const windowS = Math.max(WINDOW_S, 4 * samplePeriod(speed.timeS))
  const rows = windows(facts, windowS)
  if (rows.dv.length < 40) return null
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  const presses = analog && rows.press.some((each) => each > 0.5 * windowS)
  const columns = [rows.nm, rows.time, rows.square, ...(presses ? [rows.press] : [])]
  const first = robustLeastSquares(columns, rows.dv)
  if (!first) return null
  const fit = nonlinearFit(
    (p, out) => {
      for (let i = 0; i < out.length; i++) {
        let sum = 0
        for (let j = 0; j < columns.length; j++) sum += p[j]! * columns[j]![i]!
        out[i] = sum
      }
    },
    rows.dv,
    Array.from(first.coefficients),
    Array.from(first.coefficients, (c) => Math.abs(c) + 1e-6),
    columns.map(() => [-1e3, 1e3] as const),
    rows.block,
    { rounds: 6 },
  )
  const [perNm, roll, drag] = fit.parameters as unknown as [number, number, number]
  const error = (at: number): number => 1.96 * (fit.standardErrors[at] ?? Number.NaN)
  const friction = presses ? -fit.parameters[3]! : null
  const regenShare = torqueShare(rows.nm, rows.press) * perNm
  const frictionError =
    friction === null ? null : Math.hypot(error(3), ((torque.errorPercent / 100) * regenShare) / 1.0)
  const separable =
    friction !== null &&
    frictionError !== null &&
    friction > 0 &&
    frictionError < Math.max(0.5 * friction, 0.02)
  return {
    perNm,
    perNmPlusMinus: error(0),
    perPress: separable ? friction : null,
    perPressPlusMinus: separable ? frictionError : null,
    roll: -roll,
    rollPlusMinus: error(1),
    drag: -drag,
    dragPlusMinus: error(2),
    spread: fit.spread / windowS,
    windowS,
    windows: rows.dv.length,
    notSeparable: separable
      ? null
      : presses
        ? 'regeneration and friction rise together with the press, and this drive does not vary one without the other enough'
        : 'no brake pressure or travel is logged',
  }
}

interface Windows {
  readonly dv: Float64Array
  readonly nm: Float64Array
  readonly press: Float64Array
  readonly time: Float64Array
  readonly square: Float64Array
  readonly block: Int32Array
}

function windows(facts: Facts, windowS: number): Windows {
  const trace = facts.once(brakeTrace)!
  const speed = drivenSpeed(facts)!
  const torque = facts.once(motorTorque)!
  const { timeS, values: kmh } = speed
  const press =
    trace.input === 'none' ? null : integral(trace.timeS, trace.press, (p) => (p > trace.begunAt / 2 ? p : 0))
  const nm = integral(torque.timeS, torque.nm, (t) => t)
  const square = integral(timeS, kmh, (v) => v * v)
  const out: number[][] = []
  const mean = levelAt(timeS, kmh)
  const end = timeS[timeS.length - 1] ?? 0
  for (let from = timeS[0] ?? 0; from + windowS <= end; from += windowS) {
    const to = from + windowS
    const [v1, v2] = [mean(from), mean(to)]
    if (!(v1 > SLOWEST_KMH && v2 > SLOWEST_KMH)) continue
    const row = [
      (v2 - v1) / 3.6,
      nm(to) - nm(from),
      press ? press(to) - press(from) : 0,
      windowS,
      square(to) - square(from),
      Math.floor(from / BLOCK_S),
    ]
    if (row.every(Number.isFinite)) out.push(row)
  }
  const column = (j: number): Float64Array => Float64Array.from(out, (row) => row[j]!)
  return {
    dv: column(0),
    nm: column(1),
    press: column(2),
    time: column(3),
    square: column(4),
    block: Int32Array.from(out, (row) => row[5]!),
  }
}

/** ∫ f(value) dt from the start up to a moment; NaN inside gaps over 2 s. */
function integral(
  timeS: Float64Array,
  values: Float64Array,
  of: (value: number) => number,
): (at: number) => number {
  const sum = new Float64Array(timeS.length)
  for (let i = 1; i < timeS.length; i++) {
    const dt = timeS[i]! - timeS[i - 1]!
    const a = of(values[i - 1]!)
    const b = of(values[i]!)
    sum[i] = sum[i - 1]! + (Number.isFinite(a + b) ? ((a + b) / 2) * dt : 0)
  }
  return (at) => {
    const i = indexAt(timeS, at)
    if (i < 0 || i + 1 >= timeS.length || timeS[i + 1]! - timeS[i]! > 2) return Number.NaN
    const share = (at - timeS[i]!) / Math.max(1e-9, timeS[i + 1]! - timeS[i]!)
    return sum[i]! + share * (sum[i + 1]! - sum[i]!)
  }
}

/** Speed at a moment, as the straight line through the samples within a tenth of a second of it. */
function levelAt(timeS: Float64Array, kmh: Float64Array): (at: number) => number {
  return (at) => {
    const centre = indexAt(timeS, at)
    if (centre < 0 || centre + 1 >= timeS.length || timeS[centre + 1]! - timeS[centre]! > 2) return Number.NaN
    let n = 0
    let sumT = 0
    let sumV = 0
    let sumTT = 0
    let sumTV = 0
    let from = centre
    while (from > 0 && timeS[from - 1]! >= at - 0.1) from--
    for (let i = from; i < timeS.length && (timeS[i]! <= at + 0.1 || i <= centre + 1); i++) {
      const t = timeS[i]! - at
      n++
      sumT += t
      sumV += kmh[i]!
      sumTT += t * t
      sumTV += t * kmh[i]!
    }
    const bottom = n * sumTT - sumT * sumT
    return bottom > 1e-12 ? (sumV * sumTT - sumT * sumTV) / bottom : sumV / n
  }
}

/** Typical regeneration per unit of press while braking, N·m. */
function torqueShare(nm: Float64Array, press: Float64Array): number {
  let torque = 0
  let sum = 0
  for (let i = 0; i < nm.length; i++)
    if (press[i]! > 0 && nm[i]! < 0) {
      torque -= nm[i]!
      sum += press[i]!
    }
  return sum > 0 ? torque / sum : 0
}

/** What the car decelerates by at a press and regenerative torque (N·m ≥ 0), without the road's slope, m/s². */
export function decelerationMs2(split: BrakeSplit, regenNm: number, press: number, kmh: number): number {
  return split.perNm * regenNm + (split.perPress ?? 0) * press + split.roll + split.drag * kmh * kmh
}
