import { leastSquares } from './least-squares.ts'

/** y(t) = plateau + amplitude · e^(−t/tau), with standard errors; the amplitude is negative for a rise. */
export interface ExponentialFit {
  readonly plateau: number
  /** 0 where the plateau was given. */
  readonly plateauError: number
  readonly amplitude: number
  readonly amplitudeError: number
  readonly tau: number
  readonly tauError: number
  readonly residualSpread: number
  readonly degreesOfFreedom: number
}

const GOLDEN = (Math.sqrt(5) - 1) / 2

/**
 * Fits one exponential by variable projection: for each tau the rest is linear; the best tau is found on a
 * logarithmic grid and closed in by golden section, and the errors come from the Jacobian at the solution.
 *
 * @param timeS ascending; the amplitude belongs to time 0 of this axis, so start it near the first sample
 * @param values same unit as the plateau and amplitude given back
 * @param plateau a known final value; left out it is fitted
 * @returns null under one sample more than parameters, or where the best tau lies at an end of the grid
 *   (a quarter of the shortest spacing … 30 times the span): a straight line or a step carries no tau
 *
 * Source: variable projection, Golub & Pereyra 1973 (from memory); checked against the textbook RC law.
 */
export function fitExponential(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  plateau?: number,
): ExponentialFit | null {
  const n = timeS.length
  const free = plateau === undefined
  if (n < (free ? 4 : 3)) return null
  const y = free ? values : Float64Array.from(values, (value) => value - plateau)
  const ones = new Float64Array(n).fill(1)
  const decay = (tau: number): Float64Array => Float64Array.from(timeS, (t) => Math.exp(-t / tau))
  const linear = (tau: number) => leastSquares(free ? [ones, decay(tau)] : [decay(tau)], y)
  const misfit = (logTau: number): number =>
    linear(Math.exp(logTau))?.sumOfSquares ?? Number.POSITIVE_INFINITY
  const span = timeS[n - 1]! - timeS[0]!
  const low = Math.log(span / n / 4)
  const high = Math.log(span * 30)
  if (!(span > 0)) return null
  const steps = 60
  let best = 0
  let least = Number.POSITIVE_INFINITY
  for (let i = 0; i <= steps; i++) {
    const sum = misfit(low + ((high - low) * i) / steps)
    if (sum < least) {
      least = sum
      best = i
    }
  }
  if (best === 0 || best === steps) return null
  let a = low + ((high - low) * (best - 1)) / steps
  let b = low + ((high - low) * (best + 1)) / steps
  for (let round = 0; round < 60 && b - a > 1e-12; round++) {
    const left = b - GOLDEN * (b - a)
    const right = a + GOLDEN * (b - a)
    if (misfit(left) <= misfit(right)) b = right
    else a = left
  }
  const tau = Math.exp((a + b) / 2)
  const line = linear(tau)
  if (!line) return null
  const amplitude = line.coefficients[free ? 1 : 0]!
  const e = decay(tau)
  const slope = e.map((value, i) => (amplitude * value * timeS[i]!) / tau ** 2)
  const residual = Float64Array.from(
    y,
    (value, i) => value - (free ? line.coefficients[0]! : 0) - amplitude * e[i]!,
  )
  const jacobian = leastSquares(free ? [ones, e, slope] : [e, slope], residual)
  if (!jacobian) return null
  const errors = jacobian.standardErrors
  return {
    plateau: free ? line.coefficients[0]! : plateau,
    plateauError: free ? errors[0]! : 0,
    amplitude,
    amplitudeError: errors[free ? 1 : 0]!,
    tau,
    tauError: errors[free ? 2 : 1]!,
    residualSpread: jacobian.residualSpread,
    degreesOfFreedom: jacobian.degreesOfFreedom,
  }
}
