import type { Span } from '../../../shared/units.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { LIMIT_CAUSES, regenLimits } from './regen-limits.ts'
import { mapNm, regenMap, SLOW_S } from './regen-map.ts'
import { arrivedPress } from './regen-rows.ts'

/** Where regeneration stayed below what the map asks for, why, and what that cost. */
export interface RegenLimited {
  /** Braking in which the map asks for regeneration, s. */
  readonly brakingS: number
  readonly limitedS: number
  readonly sharePercent: number
  readonly causes: readonly {
    readonly cause: string
    readonly timeS: number
    readonly lostWh: number | null
  }[]
  /** Limited stretches, ascending. */
  readonly spans: readonly Span[]
  /** Cause per brake application, in the trace's order; null where nothing limited it. */
  readonly perApplication: readonly (string | null)[]
}

/** The map must have asked for so long before a shortfall counts (dead time and lag), s. */
const SETTLED_S = 0.3
const LEAST_NM = 3
/** Share of mechanical braking power that reaches the battery, for energy lost. Common practice, no source. */
const EFFICIENCY = 0.9

/**
 * Limited = slip control at work, or the charge current at its limit and torque below the map, while the brake asks for
 * regeneration; or torque short of the map by over three spreads and 8 % of its ceiling for as long as the lag cannot explain.
 * Energy lost = (map − torque) · motor speed · 0.9; null without motor speed or ratio.
 */
export function regenLimited(facts: Facts): RegenLimited | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  const marks = facts.once(regenLimits)
  if (!trace || !fit || !marks) return null
  const { timeS, kmh, torqueNm } = trace
  const press = arrivedPress(trace, fit.deadS, fit.lagS)
  const scale = torqueScale(torqueNm, trace.requestNm)
  const short = Math.max(LEAST_NM, 3 * fit.spreadNm, 0.08 * fit.shape.maxNm)
  const perRpm = rpmPerKmh(facts)
  // only where the map says what to expect at this moment may a shortfall count
  const firm = fit.from !== 'power' && trace.input !== 'switch' && trace.periodS <= SLOW_S
  const seconds = new Map<number, number>()
  const lost = new Map<number, number>()
  const spans: [number, number][] = []
  const perApplication: (string | null)[] = []
  let brakingS = 0
  let at = 0
  for (const [from, to] of trace.applications) {
    while (at < timeS.length && timeS[at]! < from) at++
    const own = new Map<number, number>()
    let asked = Number.POSITIVE_INFINITY // least the map asked for over the last `SETTLED_S`
    const recent: [number, number][] = []
    for (let i = at; i < timeS.length && timeS[i]! <= to; i++) {
      const dt = Math.min(timeS[i]! - (timeS[i - 1] ?? timeS[i]!), 1)
      const now = mapNm(fit.shape, press[i]!, kmh[i]!)
      recent.push([timeS[i]!, now])
      while (recent.length > 1 && recent[0]![0] < timeS[i]! - SETTLED_S) recent.shift()
      asked = Math.min(...recent.map((each) => each[1]))
      if (now > 2) brakingS += dt
      const settled = timeS[i]! - from > SETTLED_S
      const behind = asked + torqueNm[i]! / scale
      const cause =
        marks.cause[i]! > 0 && now > LEAST_NM && (marks.cause[i] !== 2 || !firm || behind > 0.3 * short)
          ? marks.cause[i]!
          : firm && settled && behind > short
            ? marks.suspect[i]!
            : 0
      if (cause === 0) continue
      own.set(cause, (own.get(cause) ?? 0) + dt)
      seconds.set(cause, (seconds.get(cause) ?? 0) + dt)
      const omega = perRpm === null ? Number.NaN : (perRpm * kmh[i]! * 2 * Math.PI) / 60
      lost.set(
        cause,
        (lost.get(cause) ?? 0) + (Math.max(0, now + torqueNm[i]! / scale) * omega * EFFICIENCY * dt) / 3600,
      )
      const open = spans[spans.length - 1]
      if (open && timeS[i]! - open[1] < 0.5) open[1] = timeS[i]!
      else spans.push([timeS[i]!, timeS[i]!])
    }
    const main = [...own].sort((a, b) => b[1] - a[1])[0]
    perApplication.push(main && main[1] > 0.2 ? LIMIT_CAUSES[main[0]]! : null)
  }
  const limitedS = [...seconds.values()].reduce((sum, each) => sum + each, 0)
  return {
    brakingS,
    limitedS,
    sharePercent: brakingS > 0 ? (100 * limitedS) / brakingS : 0,
    causes: [...seconds]
      .sort((a, b) => b[1] - a[1])
      .map(([cause, timeS]) => {
        const wh = lost.get(cause) ?? Number.NaN
        return { cause: LIMIT_CAUSES[cause]!, timeS, lostWh: Number.isFinite(wh) ? wh : null }
      }),
    spans,
    perApplication,
  }
}

/** Torque read over torque asked while regenerating firmly: the two need not share a scale. 1 without a request. */
function torqueScale(torqueNm: Float64Array, requestNm: Float64Array | null): number {
  if (!requestNm) return 1
  const ratios: number[] = []
  for (let i = 0; i < torqueNm.length; i++)
    if (requestNm[i]! < -10 && torqueNm[i]! < -10) ratios.push(torqueNm[i]! / requestNm[i]!)
  const ratio = ratios.length > 50 ? median(ratios) : 1
  return ratio > 0.8 && ratio < 1.25 ? ratio : 1
}

/** Motor speed per road speed, rpm per km/h: as logged, else by the vehicle file; null where neither tells. */
export function rpmPerKmh(facts: Facts): number | null {
  const trace = facts.once(brakeTrace)
  const motor = facts.drive.channels.get('motor_speed')
  if (trace && motor && motor.values.length > 20) {
    const ratios: number[] = []
    let at = 0
    const stride = Math.max(1, Math.floor(trace.timeS.length / 5000))
    for (let i = 0; i < trace.timeS.length; i += stride) {
      if (!(trace.kmh[i]! > 15)) continue
      while (at + 1 < motor.timeS.length && motor.timeS[at + 1]! <= trace.timeS[i]!) at++
      if (Math.abs(trace.timeS[i]! - motor.timeS[at]!) < 0.5)
        ratios.push(Math.abs(motor.values[at]!) / trace.kmh[i]!)
    }
    if (ratios.length > 10) return median(ratios)
  }
  const { wheel_radius_m: radius, gear_ratio: ratio } = facts.vehicle.car ?? {}
  if (radius === undefined || ratio === undefined || Array.isArray(ratio)) return null
  return ratio / ((2 * Math.PI * radius * 60) / 1000)
}
