import type { Span } from '../../../shared/units.ts'
import { type BrakeTrace, brakeTrace } from '../../car/brake-trace.ts'
import { DRIVE_EFFICIENCY } from '../../car/drive-efficiency.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_READINGS } from '../../math/fewest.ts'
import { median } from '../../math/stats.ts'
import { likelyCause } from './limit-cause.ts'
import { arrivedPress } from './press-response.ts'
import { CHARGE, LIMIT_CAUSES, POWER, regenLimits, UNKNOWN } from './regen-limits.ts'
import { regenMap, SLOW_S } from './regen-map.ts'
import { slowingNm } from './slowing-map.ts'

/** Fewer braking readings tell no scale between request and torque; no source. */
const FEWEST_RATIOS = 50
/** Request and torque may differ by so much in scale; beyond, they are not one figure; no source. */
const SCALE_LOW = 0.8
/** The other way round. */
const SCALE_HIGH = 1.25
/** Regenerates enough for a ratio, N·m; no source. */
const BRAKES_NM = 10
/** Fast enough for motor speed over road speed to be the gearing; no source. */
const GEARED_KMH = 15
/** Two readings so near are of one moment here; no source. */
const TOGETHER_S = 0.5
/** Fewer pairs of speeds tell no gearing; no source. */
const FEWEST_GEARS = 10

/** Where regeneration stayed below what the map asks for, why, and what that cost. */
export interface RegenLimited {
  /** Braking in which the map asks for regeneration, s. */
  readonly brakingS: number
  readonly limitedS: number
  readonly sharePercent: number
  readonly sharePlusMinus: number
  readonly causes: readonly {
    readonly cause: string
    readonly timeS: number
    readonly lostWh: number | null
  }[]
  /** Limited stretches, ascending. */
  readonly spans: readonly Span[]
  /** Cause per brake application, in the trace's order; null where nothing limited it. */
  readonly perApplication: readonly (string | null)[]
  /** Per moment of the brake trace: 1 where a limit held regeneration back. */
  readonly held: Uint8Array
}

/** The map must have asked for so long before a shortfall counts (dead time and lag), s. */
const SETTLED_S = 0.3
/** Braking counts where the map asks for more than this, and a shortfall where it asks for more than that, N·m. */
const ASKED_NM = 2
const LEAST_NM = 3
/** A shortfall is over three spreads of the fit and this share of the brake part's most. Common practice, no source. */
const SHORT_SPREADS = 3
const SHORT_SHARE = 0.08
/** Limited stretches closer together are one, s. */
const GAP_S = 0.5
/** Either end of a stretch is known to so much, s. */
const EDGE_S = 0.15

/**
 * Limited = slip control at work, or the charge current at its limit and torque below the map, while the brake asks for
 * regeneration; or torque short of the map by over three spreads and 8 % of its most for as long as the lag cannot
 * explain. Energy lost = (map − torque) · motor speed · 0.9; null without motor speed or ratio.
 * The map asks no more than what the drive showed where its end was not reached.
 */
export function regenLimited(facts: Facts): RegenLimited | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  const marks = facts.once(regenLimits)
  if (!trace || !fit || !marks) return null
  const { kmh, torqueNm } = trace
  const press = arrivedPress(trace, fit.response)
  const scale = torqueScale(torqueNm, trace.requestNm)
  const short = Math.max(LEAST_NM, SHORT_SPREADS * fit.spreadNm, SHORT_SHARE * fit.map.brakeNm)
  const perRpm = facts.once(rpmPerKmh)
  // only where the map says what to expect at this moment may a shortfall count
  const firm = fit.from !== 'power' && trace.input !== 'switch' && trace.periodS <= SLOW_S
  const samples = samplesOf(trace, (i) => slowingNm(fit.map, press[i]!, kmh[i]!))
  const behind = (each: Sample): number => each.least + torqueNm[each.i]! / scale
  const isShort = (each: Sample): boolean => firm && each.settled && behind(each) > short
  const likely = likelyCause(marks, {
    held: samples.filter((each) => isShort(each) && marks.cause[each.i] === 0).map((each) => each.i),
    free: samples
      .filter((each) => each.settled && each.asked > 2 * short && behind(each) < 0.5 * short)
      .map((each) => each.i),
    nm: (i) => -torqueNm[i]!,
    kmh: (i) => kmh[i]!,
  })
  const causeOf = (each: Sample): number => {
    const sure = marks.cause[each.i]!
    if (sure > 0 && each.asked > LEAST_NM && (sure !== CHARGE || !firm || behind(each) > 0.3 * short))
      return sure
    if (!isShort(each)) return 0
    if (likely !== UNKNOWN) return likely
    const suspect = marks.suspect[each.i]!
    return suspect === UNKNOWN && fit.powerNmKmh / kmh[each.i]! < each.asked ? POWER : suspect
  }
  return tally(trace, samples, causeOf, (each) => {
    const omega = perRpm === null ? Number.NaN : (perRpm * kmh[each.i]! * 2 * Math.PI) / 60
    return Math.max(0, each.asked + torqueNm[each.i]! / scale) * omega * DRIVE_EFFICIENCY
  })
}

/** A moment of a press: what the map asks for now, and the least it asked for over the last `SETTLED_S`. */
interface Sample {
  readonly i: number
  readonly application: number
  readonly dtS: number
  readonly asked: number
  readonly least: number
  readonly settled: boolean
}

function samplesOf(trace: BrakeTrace, askedAt: (i: number) => number): Sample[] {
  const { timeS } = trace
  const samples: Sample[] = []
  let at = 0
  trace.applications.forEach(([from, to], application) => {
    while (at < timeS.length && timeS[at]! < from) at++
    let recent = samples.length
    for (let i = at; i < timeS.length && timeS[i]! <= to; i++) {
      const asked = askedAt(i)
      while (recent < samples.length && timeS[samples[recent]!.i]! < timeS[i]! - SETTLED_S) recent++
      let least = asked
      for (let k = recent; k < samples.length; k++) least = Math.min(least, samples[k]!.asked)
      samples.push({
        i,
        application,
        dtS: Math.min(timeS[i]! - (timeS[i - 1] ?? timeS[i]!), 1),
        asked,
        least,
        settled: timeS[i]! - from > SETTLED_S,
      })
    }
  })
  return samples
}

/** Times, energies and stretches by cause. */
function tally(
  trace: BrakeTrace,
  samples: readonly Sample[],
  causeOf: (sample: Sample) => number,
  lostW: (sample: Sample) => number,
): RegenLimited {
  const { timeS } = trace
  const seconds = new Map<number, number>()
  const lostJ = new Map<number, number>()
  const own = trace.applications.map(() => new Map<number, number>())
  const spans: [number, number][] = []
  const add = (to: Map<number, number>, cause: number, what: number): unknown =>
    to.set(cause, (to.get(cause) ?? 0) + what)
  const held = new Uint8Array(timeS.length)
  let brakingS = 0
  let limitedS = 0
  for (const each of samples) {
    if (each.asked > ASKED_NM) brakingS += each.dtS
    const cause = causeOf(each)
    if (cause === 0) continue
    held[each.i] = 1
    limitedS += each.dtS
    add(seconds, cause, each.dtS)
    add(lostJ, cause, lostW(each) * each.dtS)
    add(own[each.application]!, cause, each.dtS)
    const open = spans[spans.length - 1]
    if (open && timeS[each.i]! - open[1] < GAP_S) open[1] = timeS[each.i]!
    else spans.push([timeS[each.i]!, timeS[each.i]!])
  }
  const edges = Math.max(2 * EDGE_S, trace.periodS) * Math.max(1, spans.length)
  const longest = (of: ReadonlyMap<number, number>): [number, number][] => [...of].sort((a, b) => b[1] - a[1])
  return {
    brakingS,
    limitedS,
    sharePercent: brakingS > 0 ? Math.min(100, (100 * limitedS) / brakingS) : 0,
    sharePlusMinus: brakingS > 0 ? Math.min(100, (100 * edges) / brakingS) : 100,
    causes: longest(seconds).map(([cause, lasted]) => {
      const wh = (lostJ.get(cause) ?? Number.NaN) / 3600
      return { cause: LIMIT_CAUSES[cause]!, timeS: lasted, lostWh: Number.isFinite(wh) ? wh : null }
    }),
    spans,
    perApplication: own.map((causes) => {
      const main = longest(causes)[0]
      return main && main[1] > LEAST_S ? LIMIT_CAUSES[main[0]]! : null
    }),
    held,
  }
}

/** An application that was limited for less is not called so, s. */
const LEAST_S = 0.2

/** What was found, where it is past the limit that makes it a finding; null where it is not. */
export function heldBack(facts: Facts): RegenLimited | null {
  const found = facts.once(regenLimited)
  const limit = facts.limits.regenLimitedPercent.attention ?? Number.POSITIVE_INFINITY
  return found && found.brakingS >= LEAST_BRAKING_S && found.sharePercent > limit ? found : null
}

/** Less braking with regeneration says nothing of a share, s. Common practice, no source. */
export const LEAST_BRAKING_S = 2

/** Torque read over torque asked while regenerating firmly: the two need not share a scale. 1 without a request. */
function torqueScale(torqueNm: Float64Array, requestNm: Float64Array | null): number {
  if (!requestNm) return 1
  const ratios: number[] = []
  for (let i = 0; i < torqueNm.length; i++)
    if (requestNm[i]! < -BRAKES_NM && torqueNm[i]! < -BRAKES_NM) ratios.push(torqueNm[i]! / requestNm[i]!)
  const ratio = ratios.length > FEWEST_RATIOS ? median(ratios) : 1
  return ratio > SCALE_LOW && ratio < SCALE_HIGH ? ratio : 1
}

/** Motor speed per road speed, rpm per km/h: as logged, else by the vehicle file; null where neither tells. */
export function rpmPerKmh(facts: Facts): number | null {
  const trace = facts.once(brakeTrace)
  const motor = facts.drive.channels.get('motor_speed')
  if (trace && motor && motor.values.length > FEWEST_READINGS) {
    const ratios: number[] = []
    let at = 0
    const stride = Math.max(1, Math.floor(trace.timeS.length / 5000))
    for (let i = 0; i < trace.timeS.length; i += stride) {
      if (!(trace.kmh[i]! > GEARED_KMH)) continue
      while (at + 1 < motor.timeS.length && motor.timeS[at + 1]! <= trace.timeS[i]!) at++
      if (Math.abs(trace.timeS[i]! - motor.timeS[at]!) < TOGETHER_S)
        ratios.push(Math.abs(motor.values[at]!) / trace.kmh[i]!)
    }
    if (ratios.length > FEWEST_GEARS) return median(ratios)
  }
  const { wheel_radius_m: radius, gear_ratio: ratio } = facts.vehicle.car ?? {}
  if (radius === undefined || ratio === undefined || Array.isArray(ratio)) return null
  return ratio / ((2 * Math.PI * radius * 60) / 1000)
}
