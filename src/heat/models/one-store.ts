import { leastSquares } from '../../math/least-squares.ts'
import { mean } from '../../math/stats.ts'
import type { ModuleTemperatures } from './module-temperatures.ts'

interface OneFit {
  readonly a: number
  readonly b: number
  readonly error: number
  /** °C that the coolant was taken for: its mean, or the fitted constant. */
  readonly restC: number
  readonly modelC: Float64Array
}

/**
 * T0, a and b of one module (a fixed where `sharedA` is given); null where they cannot be told apart.
 * @param coolant °C on the grid, or null: then one constant coolant temperature is fitted as well
 */
export function fitModule(
  grid: Pick<ModuleTemperatures, 'timeS' | 'stepS'>,
  celsius: Float64Array,
  squaredA2: Float64Array,
  coolant: Float64Array | null,
  sharedA: number | null,
): OneFit | null {
  const start = integralFit(grid, celsius, squaredA2, coolant, sharedA)
  if (!start) return null
  let { t0, a, b, tc } = start
  const n = celsius.length
  const simulate = (t0: number, a: number, b: number, tc: number): Float64Array => {
    const out = new Float64Array(n)
    let t = t0
    const fade = Math.exp(-Math.max(b, 1e-9) * grid.stepS)
    const gain = (1 - fade) / Math.max(b, 1e-9)
    for (let i = 0; i < n; i++) {
      if (i > 0) {
        const cool = coolant ? coolant[i - 1]! : tc
        t = t * fade + gain * (a * squaredA2[i - 1]! + Math.max(b, 1e-9) * cool)
      }
      out[i] = t
    }
    return out
  }
  const kept: number[] = []
  for (let i = 0; i < n; i++) if (Number.isFinite(celsius[i]!)) kept.push(i)
  const free = (sharedA === null ? 3 : 2) + (coolant ? 0 : 1)
  if (kept.length < 4 * free) return null
  let solved: ReturnType<typeof leastSquares> = null
  let modelC = simulate(t0, a, b, tc)
  let residual = new Float64Array(0)
  for (let round = 0; round < 8; round++) {
    residual = Float64Array.from(kept, (i) => celsius[i]! - modelC[i]!)
    const slope = (moved: Float64Array, by: number): Float64Array =>
      Float64Array.from(kept, (i) => (moved[i]! - modelC[i]!) / by)
    const db = Math.max(1e-7, b * 1e-3)
    const columns = [slope(simulate(t0 + 0.01, a, b, tc), 0.01), slope(simulate(t0, a, b + db, tc), db)]
    const da = a * 1e-3
    if (sharedA === null) columns.push(slope(simulate(t0, a + da, b, tc), da))
    if (!coolant) columns.push(slope(simulate(t0, a, b, tc + 0.01), 0.01))
    solved = leastSquares(columns, residual)
    if (!solved) return null
    const [dT0, dB, ...rest] = solved.coefficients
    t0 += dT0!
    b = Math.max(b / 3, b + dB!)
    if (sharedA === null) a = Math.max(a / 3, a + rest.shift()!)
    if (!coolant) tc += rest[0]!
    modelC = simulate(t0, a, b, tc)
    if (Math.abs(dB!) < 1e-4 * b) break
  }
  residual = Float64Array.from(kept, (i) => celsius[i]! - modelC[i]!)
  const correlation = Math.min(0.98, Math.max(0, lagOne(residual)))
  const inflate = Math.sqrt((1 + correlation) / (1 - correlation))
  return { a, b, error: solved!.standardErrors[1]! * inflate, restC: coolant ? mean(coolant) : tc, modelC }
}

function integralFit(
  grid: Pick<ModuleTemperatures, 'timeS' | 'stepS'>,
  celsius: Float64Array,
  squaredA2: Float64Array,
  coolant: Float64Array | null,
  sharedA: number | null,
): { t0: number; a: number; b: number; tc: number } | null {
  const heat: number[] = []
  const lost: number[] = []
  const age: number[] = []
  const y: number[] = []
  let sumHeat = 0
  let sumLost = 0
  let last = firstFinite(celsius)
  const reference = last
  for (let i = 0; i < celsius.length; i++) {
    const t = celsius[i]!
    if (Number.isFinite(t)) {
      last = t
      heat.push(sumHeat)
      lost.push(-sumLost)
      age.push(grid.timeS[i]!)
      y.push(t)
    }
    sumHeat += (squaredA2[i] || 0) * grid.stepS
    sumLost += (last - (coolant ? coolant[i]! : reference)) * grid.stepS
  }
  const ones = new Float64Array(y.length).fill(1)
  const target = sharedA === null ? y : y.map((t, i) => t - sharedA * heat[i]!)
  const columns: ArrayLike<number>[] = sharedA === null ? [ones, lost, heat] : [ones, lost]
  if (!coolant) columns.push(age)
  const fit = leastSquares(columns, target)
  if (!fit) return null
  const a = sharedA ?? fit.coefficients[2]!
  const b = Math.max(fit.coefficients[1]!, 1e-6)
  if (!(a > 0)) return null
  const drift = coolant ? 0 : fit.coefficients[columns.length - 1]!
  return { t0: fit.coefficients[0]!, a, b, tc: reference + drift / b }
}

export function lagOne(residual: Float64Array): number {
  let top = 0
  let bottom = 0
  for (let i = 0; i < residual.length; i++) {
    bottom += residual[i]! ** 2
    if (i > 0) top += residual[i]! * residual[i - 1]!
  }
  return bottom > 0 ? top / bottom : 0
}

export function firstFinite(values: Float64Array): number {
  for (const value of values) if (Number.isFinite(value)) return value
  return Number.NaN
}

/** Mean of I² between grid points, A²; the last known value carries over gaps of the current. */
export function meanSquareOnGrid(
  timeS: Float64Array,
  amperes: Float64Array,
  grid: Float64Array,
  stepS: number,
): Float64Array {
  const sums = new Float64Array(grid.length)
  const counts = new Float64Array(grid.length)
  for (let i = 0; i < timeS.length; i++) {
    const at = Math.floor((timeS[i]! - grid[0]!) / stepS)
    if (at < 0 || at >= grid.length || !Number.isFinite(amperes[i]!)) continue
    sums[at]! += amperes[i]! ** 2
    counts[at]!++
  }
  let last = 0
  return sums.map((sum, i) => (last = counts[i]! > 0 ? sum / counts[i]! : last))
}
