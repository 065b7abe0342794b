import type { WarmthLaw } from '../../car/resistance-warmth.ts'

/**
 * How heat goes through a module: in the cells, and on to the coolant.
 *
 * Model:  one store  dT/dt = H − b · (T − Tc) / ρ
 *         two stores (cells, and plate or casing of share f of the heat capacity, joined by the share κ of the whole
 *         thermal resistance 1/b; the plate's own path is what a fault makes worse):
 *           (1 − f) dTi/dt = H − (b/κ) · (Ti − To)
 *                f  dTo/dt = (b/κ) · (Ti − To) − b · (To − Tc) / (ρ − κ)
 *         H = a · ((1 − g) · I² + g · I₀ · |I|) · e^(E·(1/T − 1/298.15)), I₀ making both alike over the drive; ρ is
 *         the module's whole resistance against the shared one, its path into
 *         the plate included. The sensor reads the inner store or the outer one.
 * Why two: sensors of real packs follow the heat by a minute or two, or run ahead of the mean of the cells.
 * Steps: Crank–Nicolson, which is stable at any step.
 * Source: lumped-capacity heat balance, any heat-transfer textbook; checked against the closed form.
 */
export interface HeatLaw {
  /** E of the heat's fall with warmth, K. */
  readonly activationK: number
  /** Share of the heat that grows with the current, not its square (kinetics: Butler-Volmer at high current). */
  readonly linear: number
  /** f; 0 is one store. */
  readonly outerShare: number
  /** κ. */
  readonly coupling: number
  readonly sensor: 'inner' | 'outer'
}

export interface Warmed {
  /** a, K/(A²·s). */
  readonly warming: number
  /** b, 1/s. */
  readonly cooling: number
  readonly startC: number
  /** ρ. */
  readonly resistance: number
}

/** What drives a module, on an even grid; nothing in it is NaN. */
export interface Drivers {
  readonly stepS: number
  /** What the current makes, with warmth's factor, A². */
  readonly heat: Float64Array
  readonly coolantC: Float64Array
  /** Where the pump stood the coolant takes nothing; null where it is not logged. */
  readonly pumping: Uint8Array | null
}

/** The sensor's temperature on the grid, °C. */
export function warm(law: HeatLaw, own: Warmed, drivers: Drivers): Float64Array {
  return law.outerShare > 0 ? twoStores(law, own, drivers) : oneStore(own, drivers)
}

function oneStore({ warming, cooling, startC, resistance }: Warmed, drivers: Drivers): Float64Array {
  const { heat, coolantC, pumping, stepS } = drivers
  const out = new Float64Array(heat.length)
  const b = cooling / resistance
  const fade = Math.exp(-b * stepS)
  const gain = (1 - fade) / b
  let t = startC
  for (let i = 0; i < out.length; i++) {
    out[i] = t
    if (pumping && pumping[i] === 0) t += stepS * warming * heat[i]!
    else t = t * fade + gain * (warming * heat[i]! + b * coolantC[i]!)
  }
  return out
}

function twoStores(law: HeatLaw, own: Warmed, drivers: Drivers): Float64Array {
  const { heat, coolantC, pumping, stepS } = drivers
  const out = new Float64Array(heat.length)
  const f = law.outerShare
  const half = stepS / 2
  const between = own.cooling / law.coupling
  // a module cannot shed its heat better than through a plate of no resistance
  const away = own.cooling / Math.max(0.02, own.resistance - law.coupling)
  const inner = (half * between) / (1 - f)
  const join = (half * between) / f
  let ti = own.startC
  let to = own.startC
  for (let i = 0; i < out.length; i++) {
    out[i] = law.sensor === 'outer' ? to : ti
    const open = pumping && pumping[i] === 0 ? 0 : (half * away) / f
    const left = ti + inner * (to - ti) + (stepS * own.warming * heat[i]!) / (1 - f)
    const right = to + join * (ti - to) + open * (2 * coolantC[i]! - to)
    const down = 1 + join + open
    const whole = (1 + inner) * down - inner * join
    ti = (left * down + inner * right) / whole
    to = ((1 + inner) * right + join * left) / whole
  }
  return out
}

/** Share of the whole rise above the coolant that the sensor shows once all has settled. */
export function settledShare(law: HeatLaw, resistance: number): number {
  return law.outerShare > 0 && law.sensor === 'outer'
    ? Math.max(0.02, resistance - law.coupling) / resistance
    : 1
}

export const ACTIVATIONS_K = [0, 1250, 2500, 3750, 5000]
/** The place of the usual one. */
export const USUAL = 2
export const LINEAR = [0, 0.4]
const SHARES = [0.08, 0.18, 0.35]
const COUPLINGS = [0.08, 0.18, 0.35, 0.55]

/** Of a module's heat: what cells make (joints and links the rest), and of that what their ohmic part does. From memory. */
const CELLS_SHARE = 0.9
const OHMIC_SHARE = 2 / 3

/** The laws that are tried: of the stores nothing is known beforehand, of the heat's fall what the chemistry tells. */
export const STORES: readonly Pick<HeatLaw, 'outerShare' | 'coupling' | 'sensor'>[] = [
  { outerShare: 0, coupling: 0, sensor: 'inner' },
  ...SHARES.flatMap((outerShare) =>
    COUPLINGS.flatMap((coupling) =>
      (['inner', 'outer'] as const).map((sensor) => ({ outerShare, coupling, sensor })),
    ),
  ),
]

/** ln of how likely a law is before the drive is looked at, up to a constant. */
export function logPrior(law: HeatLaw, { ohmic, slow }: WarmthLaw): number {
  // one store stands for all its couplings, each pair of stores for itself
  const stores = law.outerShare > 0 ? -Math.log(2 * SHARES.length * COUPLINGS.length) : 0
  const expected = CELLS_SHARE * (OHMIC_SHARE * ohmic.kelvin + (1 - OHMIC_SHARE) * slow.kelvin)
  return stores - 0.5 * ((law.activationK - expected) / Math.hypot(ohmic.spread, slow.spread / 2)) ** 2
}
