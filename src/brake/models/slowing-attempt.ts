import { type NonlinearFit, nonlinearFit } from '../../math/nonlinear-fit.ts'
import { quantile } from '../../math/stats.ts'
import type { Response } from './press-response.ts'
import { pressThrough, type RegenRows } from './regen-rows.ts'
import { type Form, type SlowingMap, slowingNm } from './slowing-map.ts'
import { SlowingRows } from './slowing-predict.ts'

/** What an attempt takes as given; the rest is fitted. */
export interface Setup {
  readonly form: Form
  /** N·m; null = fitted. */
  readonly liftNm: number | null
  /** As read from coasting; `same` = as the brake part fades; `own` = fitted. */
  readonly liftFade: readonly [number, number] | 'same' | 'own'
  /** Press at which the brake part jumps; null = it does not. */
  readonly stepAt: number | null
  /** Does the brake part begin with that jump? */
  readonly beginsWithStep: boolean
  readonly back: number
  readonly deadS: number
  readonly lagOn: Response['lagOn']
  /** Where the lag is of the torque: what the press is filtered by beside it, s. */
  readonly pressLagS?: number
  /** Does constant power cap the torque at speed (above the motor's base speed, or a limit nobody logged)? */
  readonly power: boolean
  /** Slow logs show no lag. */
  readonly slow: boolean
}

export interface Attempt {
  readonly setup: Setup
  readonly fit: NonlinearFit
  /** Each row's misfit to the power 1.5, capped, and their sum: compares attempts that outliers would else decide. */
  readonly misfit: Float64Array
  readonly cost: number
}

/**
 * Places of the fitted figures: start, full − start, brake part, fade from, its width, lag, lift-off, power, jump,
 * lift-off's fade.
 */
export const P = {
  start: 0,
  span: 1,
  brake: 2,
  fade: 3,
  width: 4,
  lag: 5,
  lift: 6,
  power: 7,
  jump: 8,
  liftLow: 9,
  liftWidth: 10,
} as const
/** N·m · km/h that no car brakes with: no cap. */
const NO_CAP = 1e7
/** A residual counts at most as this share of the most torque. Common practice, no source. */
const CAP_SHARE = 0.3
/** Smaller misfits than this share of the most torque decide nothing between attempts. Common practice, no source. */
const FLOOR_SHARE = 0.004
const LONGEST_LAG_S = 1.5
/**
 * A brake part hidden under the lift-off torque begins no sooner than this, bar: sooner it would follow the sensor's noise. With
 * equal fades `larger` is a `sum` that begins later, so this is what tells them apart. Common practice, no source.
 */
const LEAST_START = 0.3

export const better = (a: Attempt | null, b: Attempt): Attempt => (a && a.cost * 0.999 <= b.cost ? a : b)

/** Robust nonlinear least squares from a guess; see `regenMap` for the model. */
export function attempt(rows: RegenRows, setup: Setup, rounds: number, from: ArrayLike<number>): Attempt {
  const { top, peak, fast } = sizesOf(rows)
  const fadeTop = Math.max(5, 0.6 * fast)
  const slowing = new SlowingRows(rows)
  const fixed = setup.liftNm
  const { deadS, back } = setup
  // one parameter in eleven is the lag: the others ask for the press of the same lag again
  const arrived: { lagS: number; press: Float64Array }[] = []
  const at = (lagS: number): Float64Array => {
    const before = arrived.find((each) => each.lagS === lagS)
    if (before) return before.press
    if (arrived.length > 1) arrived.shift()
    const press = pressThrough(rows, { deadS, lagS, back })
    arrived.push({ lagS, press })
    return press
  }
  const settled = setup.lagOn === 'torque' ? at(setup.pressLagS ?? 0) : null
  const power = peak * fast
  const fit = nonlinearFit(
    (p, out) =>
      slowing.predict(
        mapOf(setup, p),
        settled ?? at(p[P.lag]!),
        setup.power ? p[P.power]! : null,
        settled ? p[P.lag]! : 0,
        out,
      ),
    rows.nm,
    Array.from(from),
    [0.05 * top, 0.1 * top, 0.1 * peak, 0.5, 0.5, 0.05, 0.05 * peak, 0.1 * power, 0.1 * peak, 0.5, 0.5],
    [
      setup.stepAt !== null && setup.beginsWithStep
        ? [setup.stepAt, setup.stepAt]
        : [setup.form === 'larger' ? LEAST_START : -0.05 * top, 0.95 * top],
      [0.01 * top, 4 * top],
      [0.2 * peak, 4 * peak],
      [0, fadeTop],
      [0.2, fadeTop],
      [0, setup.slow ? 0 : LONGEST_LAG_S],
      fixed === null ? [0, 0.6 * peak] : [fixed, fixed],
      setup.power ? [0.02 * power, NO_CAP] : [NO_CAP, NO_CAP],
      setup.stepAt === null ? [0, 0] : [0, 1.2 * peak],
      setup.liftFade === 'own' ? [0, fadeTop] : [0, 0],
      setup.liftFade === 'own' ? [0.2, fadeTop] : [1, 1],
    ],
    rows.run,
    { rounds },
  )
  const misfit = new Float64Array(fit.residuals.length)
  const [floor, cap] = [FLOOR_SHARE * peak, CAP_SHARE * peak]
  let cost = 0
  for (let i = 0; i < misfit.length; i++) {
    const size = Math.min(Math.sqrt(fit.residuals[i]! ** 2 + floor * floor), cap)
    misfit[i] = size * Math.sqrt(size)
    cost += misfit[i]!
  }
  return { setup, fit, misfit, cost }
}

/** Most press and torque of the rows, strays aside, and a speed that most are below: asked for by every attempt. */
function sizesOf(rows: RegenRows): { top: number; peak: number; fast: number } {
  const known = SIZES.get(rows)
  if (known) return known
  const sizes = {
    top: quantile(rows.press, 0.998),
    peak: quantile(rows.nm, 0.998),
    fast: quantile(rows.kmh, 0.9),
  }
  SIZES.set(rows, sizes)
  return sizes
}

const SIZES = new WeakMap<RegenRows, { top: number; peak: number; fast: number }>()

export function mapOf(setup: Setup, p: ArrayLike<number>): SlowingMap {
  const fade = [p[P.fade]!, p[P.fade]! + p[P.width]!] as const
  return {
    form: setup.form,
    start: p[P.start]!,
    full: p[P.start]! + p[P.span]!,
    brakeNm: p[P.brake]!,
    fade,
    liftNm: p[P.lift]!,
    liftFade:
      setup.liftFade === 'same'
        ? fade
        : setup.liftFade === 'own'
          ? [p[P.liftLow]!, p[P.liftLow]! + p[P.liftWidth]!]
          : setup.liftFade,
    step: setup.stepAt === null || p[P.jump]! <= 0 ? null : { at: setup.stepAt, nm: p[P.jump]! },
  }
}

/** Lag of press and torque together, s. */
export const lagOf = (setup: Setup, p: ArrayLike<number>): number => p[P.lag]! + (setup.pressLagS ?? 0)

/** What the map asks for at each row, before lag and limits. */
export function askedNm(rows: RegenRows, { setup, fit }: Attempt): Float64Array {
  const map = mapOf(setup, fit.parameters)
  const press = pressThrough(rows, { ...setup, lagS: lagOf(setup, fit.parameters) })
  return press.map((bar, i) => slowingNm(map, bar, rows.kmh[i]!))
}
