import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { mean, median, robustSpread, standardDeviation } from '../../math/stats.ts'
import { studentT } from '../../math/student-t.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { type ModuleTemperatures, moduleTemperatures } from './module-temperatures.ts'

/** How one module warms and is cooled, from the drive. */
export interface ModuleHeat {
  readonly index: number
  /** Cooling group: peers are compared inside it only. */
  readonly group: string
  /** Hottest less first reading, K. */
  readonly riseC: number
  readonly hottestC: number
  /** Warming per squared current, K/(A²·s): R/C, shared by the group. */
  readonly warming: number
  /** Cooling rate, 1/s: 1/(Rth·C). */
  readonly cooling: number
  readonly coolingError: number
  /** Rth against the median of its peers; null where not told. */
  readonly ratio: number | null
  readonly ratioPlusMinus: number | null
  /** Model's temperature on the grid, °C, for drawing. */
  readonly modelC: Float64Array
  /** Why there is no ratio; null where there is. */
  readonly why: string | null
}

export interface ThermalFit {
  readonly grid: ModuleTemperatures
  readonly squaredA2: Float64Array
  readonly coolantC: Float64Array | null
  readonly modules: readonly ModuleHeat[]
}

/**
 * Lumped heat of each module:  C·dT/dt = I²·R − (T − Tcoolant)/Rth,
 * i.e. dT/dt = a·I² − b·(T − Tc) with a = R/C and b = 1/(Rth·C).
 *
 * Method: T(t) = T0 + a·∫I²dt − b·∫(T − Tc)dt by least squares (start values), then Gauss-Newton on the simulated
 * temperature (output error), which quantised readings bias less. Modules of a cooling group share a (same cells, so
 * same R and C); b differs. Rth ratio = b of the peers' median / b of the module.
 * Reads: module temperatures [°C], pack current [A], coolant in and out [°C].
 * Interval: the fit's error, with its residuals' slow wander counted through the lag-one correlation, and the robust
 * spread of the group's other members (Student's t for their number), and 1 % of heat that a healthy module may make
 * more or less than its peers, worth several percent of resistance where little of the heat has left yet.
 * Biased by: resistance falling as cells warm (shared by peers, cancels in the ratio to first order); coolant warmed
 * by upstream modules (taken out where `cooling_order` is given); a module with more resistance than its peers reads as
 * worse cooled.
 * Blind: under five sensor steps of rise; under two peers in the group.
 * Source: lumped-capacity heat balance, any heat-transfer textbook; checked against the closed form.
 */
export function thermalFit(facts: Facts): ThermalFit | null {
  const grid = facts.once(moduleTemperatures)
  const current = facts.once(packCurrent)
  if (!grid || !current) return null
  const squaredA2 = meanSquareOnGrid(current.timeS, current.amperes, grid.timeS, grid.stepS)
  const inlet = channelOnGrid(facts, 'coolant_in', grid.timeS)
  const outlet = channelOnGrid(facts, 'coolant_out', grid.timeS)
  const coolantC = inlet && outlet ? inlet.map((low, i) => (low + outlet[i]!) / 2) : (inlet ?? outlet)
  const order = facts.vehicle.pack?.cooling_order ?? []
  const groupOf = coolingGroups(facts)

  const fits = grid.modules.map((module) => {
    const step = Math.max(
      0,
      ...module.sensors.map((sensor) => (Number.isFinite(sensor.stepC) ? sensor.stepC : 0)),
    )
    const local = localCoolant(order, module.index, inlet, outlet, coolantC)
    const first = firstFinite(module.celsius)
    const hottestC = Math.max(...Array.from(module.celsius).filter(Number.isFinite))
    const riseC = hottestC - first
    const enough = riseC >= 5 * step && riseC > 0
    return {
      module,
      local,
      step,
      first,
      hottestC,
      riseC,
      free: enough ? fitModule(grid, module.celsius, squaredA2, local, null) : null,
    }
  })

  const modules = fits.map((each): ModuleHeat => {
    const group = groupOf(each.module.index)
    const base = { index: each.module.index, group, riseC: each.riseC, hottestC: each.hottestC }
    const peers = fits.filter(
      (other) => groupOf(other.module.index) === group && other.free && other.free.b > 0,
    )
    const none = (why: string): ModuleHeat => ({
      ...base,
      warming: Number.NaN,
      cooling: Number.NaN,
      coolingError: Number.NaN,
      ratio: null,
      ratioPlusMinus: null,
      modelC: new Float64Array(grid.timeS.length).fill(Number.NaN),
      why,
    })
    if (!each.free)
      return none(`it warmed by ${each.riseC.toFixed(1)} K, under five steps of its sensors (${each.step} K)`)
    if (peers.length < 3) return none('fewer than three modules share its kind of cooling')
    const warming = median(peers.map((peer) => peer.free!.a))
    const own = fitModule(grid, each.module.celsius, squaredA2, each.local, warming)
    if (!own || !(own.b > 0)) return none('the drive was too short or too even to tell cooling from warming')
    const rivals = peers
      .filter((peer) => peer !== each)
      .map((peer) => fitModule(grid, peer.module.celsius, squaredA2, peer.local, warming))
      .filter((fit) => fit !== null && fit.b > 0)
      .map((fit) => fit!.b)
    const usual = median(rivals)
    const ratio = usual / own.b
    const spread = Math.max(robustSpread(rivals), standardDeviation(rivals) / 2) / usual
    const heat = HEAT_SPREAD * heatOverLoss(squaredA2, warming, own, each.module.celsius, each.local)
    const share = Math.hypot(own.error / own.b, spread, (1.2533 * spread) / Math.sqrt(rivals.length), heat)
    if (share > 0.5) return none('the drive was too short or too even to tell cooling from warming')
    return {
      ...base,
      warming,
      cooling: own.b,
      coolingError: own.error,
      ratio,
      ratioPlusMinus: studentT(0.975, rivals.length - 1) * ratio * share,
      modelC: own.modelC,
      why: null,
    }
  })
  return { grid, squaredA2, coolantC, modules }
}

/**
 * Spread of a healthy module's heat against its peers': cells' resistances differ by some 3 %, a dozen cells average to
 * 1 %. Common practice, no source.
 */
const HEAT_SPREAD = 0.01

/** Heat put in over heat lost by the coolant: how many percent of resistance one percent of heat is worth. */
function heatOverLoss(
  squaredA2: Float64Array,
  warming: number,
  own: OneFit,
  celsius: Float64Array,
  coolant: Float64Array | null,
): number {
  let heat = 0
  let loss = 0
  for (let i = 0; i < celsius.length; i++) {
    const above = celsius[i]! - (coolant ? coolant[i]! : celsius[0]!)
    if (!Number.isFinite(above)) continue
    heat += warming * squaredA2[i]!
    loss += own.b * above
  }
  return loss > 0 ? heat / loss : Number.POSITIVE_INFINITY
}

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

function lagOne(residual: Float64Array): number {
  let top = 0
  let bottom = 0
  for (let i = 0; i < residual.length; i++) {
    bottom += residual[i]! ** 2
    if (i > 0) top += residual[i]! * residual[i - 1]!
  }
  return bottom > 0 ? top / bottom : 0
}

function firstFinite(values: Float64Array): number {
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

function channelOnGrid(facts: Facts, id: string, grid: Float64Array): Float64Array | null {
  const channel = facts.drive.channels.get(id)
  if (!channel) return null
  const on = linearAt(channel, grid, 120)
  let last = firstFinite(on)
  if (!Number.isFinite(last)) return null
  return on.map((value) => (last = Number.isFinite(value) ? value : last))
}

/** Coolant at the module: between inlet and outlet by its place in the coolant's order, else their mean. */
function localCoolant(
  order: readonly (readonly number[])[],
  module: number,
  inlet: Float64Array | null,
  outlet: Float64Array | null,
  mean: Float64Array | null,
): Float64Array | null {
  const line = order.find((modules) => modules.includes(module))
  if (!line || !inlet || !outlet) return mean
  const share = (line.indexOf(module) + 0.5) / line.length
  return inlet.map((low, i) => low + share * (outlet[i]! - low))
}

/** Names the cooling group of a module: the vehicle file's, else all modules are one group. */
function coolingGroups(facts: Facts): (module: number) => string {
  const stated = facts.vehicle.pack?.cooling_group_of_module
  return (module) => stated?.[module - 1] ?? 'all modules'
}
