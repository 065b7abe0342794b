import { type BrakeTrace, brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { quantile } from '../../math/stats.ts'
import { liftFade } from './lift-fade.ts'
import type { Response } from './press-response.ts'
import { CEILING, FULL_BATTERY, regenLimits } from './regen-limits.ts'
import { liftRegeneration, type RegenRows, regenRows, rowsWhere } from './regen-rows.ts'
import { stepPress } from './regen-step-press.ts'
import { lagOf, mapOf, P } from './slowing-attempt.ts'
import { figuresOf, type SlowingFigures } from './slowing-figures.ts'
import { FAST_KMH, type Known, type SlowingFit, slowingFit } from './slowing-fit.ts'
import type { SlowingMap } from './slowing-map.ts'

/** Regeneration against brake input and speed, as the drive shows it. */
export type { Figure } from './slowing-figures.ts'

export interface RegenFit extends SlowingFigures {
  /** Could lift-off and brake part join in another way as well? */
  readonly formOpen: boolean
  /** Where the brake part would begin in that other way; null where there is none. */
  readonly rivalStart: number | null
  readonly from: 'torque_request' | 'torque' | 'power'
  readonly response: Response
  /** 95 % half width of dead time and lag together, s. */
  readonly delayPlusMinusS: number
  readonly spreadNm: number
  /** 95 % half width of the map's jump; null where it has none. */
  readonly stepPlusMinusNm: number | null
  readonly applications: number
  /** The fitted map as a function, bounds filled with the fit's own figures. */
  readonly map: SlowingMap
  /** Constant power that capped the torque at speed, N·m · km/h; infinite where none did. */
  readonly powerNmKmh: number
  /** Share of the rows near presses that fell short of the map. */
  readonly shortShare: number
  readonly rows: RegenRows
}

/** Slower logs show no lag; there brake and torque must stand in the same rows, s. */
export const SLOW_S = 0.3
/** Rows used for the search and for the last fit. */
const COARSE = 1500
const FINE = 5000
/** Fewer rows, or less torque, show no map. */
const FEWEST_ROWS = 30
const LEAST_NM = 3

/**
 * How does slowing torque follow the brake and the speed?
 *
 * Model: lift-off part(speed) joined with brake part(press) · fade(speed) by one of three forms (`slowing-map.ts`), seen
 *        through a dead time, a first-order lag of press or torque, and play between rising and falling press; constant
 *        power may cap it at speed. Robust nonlinear least squares (`slowing-fit.ts`).
 * Reads: the torque request where it is logged (what the map says), else the torque (map and inverter together), else
 *        battery power over motor speed; moments with the accelerator at rest, the car moving and nothing limiting.
 * Gives: each figure with a 95 % interval or a bound (`slowing-figures.ts`); each brake application is one witness.
 * Limits hold back and never add: what falls short of the map for longer than a lag, presses that are weak as a whole,
 *        and moments with a cell at its ceiling leave the fit. They are counted in `regenLimited`.
 * Biased by: a torque request logged after the inverter's own limits; noise of the pressure sensor (rounds the knee);
 *        from power alone by what the battery feeds beside the motor (in the interval).
 * Null without brake applications that show regeneration, and for slow logs whose brake and torque are read at
 *        different moments.
 */
export function regenMap(facts: Facts): RegenFit | null {
  const trace = facts.once(brakeTrace)
  if (!trace || trace.input === 'none' || trace.applications.length === 0) return null
  if (trace.periodS > SLOW_S && !trace.sameRows) return null
  const limits = facts.once(regenLimits)
  const coarse = unsuspected(regenRows(trace, limits, COARSE))
  if (coarse.nm.length < FEWEST_ROWS || quantile(coarse.nm, 0.998) < LEAST_NM) return null
  const fine = unsuspected(regenRows(trace, limits, FINE))
  const lift = liftRegeneration(trace, FAST_KMH)
  const fade = lift ? liftFade(trace, lift) : null
  const given = facts.vehicle.brake?.lift_regen_nm
  const known: Known = {
    slow: trace.periodS > SLOW_S,
    periodS: trace.periodS,
    liftNm: lift ?? given ?? 0,
    liftKnown: lift !== null || given !== undefined,
    liftFade: fade ? [fade.low, fade.high] : null,
  }
  const fit = slowingFit(coarse, fine, known, stepPress(trace))
  return readOut(fit, trace, lift, fade)
}

/** Without the moments at which a full cell or battery may be what limits, where enough others remain. */
function unsuspected(rows: RegenRows): RegenRows {
  const free = rowsWhere(rows, (i) => rows.suspect[i] !== CEILING && rows.suspect[i] !== FULL_BATTERY)
  return free.nm.length >= FEWEST_ROWS && quantile(free.nm, 0.998) >= LEAST_NM ? free : rows
}

function readOut(
  fit: SlowingFit,
  trace: BrakeTrace,
  lift: number | null,
  fade: ReturnType<typeof liftFade>,
): RegenFit {
  const { setup } = fit.last
  const p = fit.last.fit.parameters
  const power = p[P.power]!
  return {
    ...figuresOf(fit, trace, lift, fade),
    from: trace.requestNm ? 'torque_request' : trace.channels.includes('torque') ? 'torque' : 'power',
    response: { deadS: setup.deadS, lagS: lagOf(setup, p), lagOn: setup.lagOn, back: setup.back },
    delayPlusMinusS: 1.96 * (fit.last.fit.standardErrors[P.lag]! || 0) + trace.periodS / 2,
    formOpen: fit.rival !== null,
    rivalStart: fit.rival ? fit.rival.fit.parameters[P.start]! : null,
    spreadNm: fit.last.fit.spread,
    stepPlusMinusNm: setup.stepAt === null ? null : 1.96 * (fit.last.fit.standardErrors[P.jump]! || 0),
    applications: trace.applications.length,
    map: mapOf(setup, p),
    powerNmKmh: setup.power ? power : Number.POSITIVE_INFINITY,
    shortShare: fit.shortShare,
    rows: fit.rows,
  }
}
