import type { Review } from '../../../shared/review.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { brakeApplications, regenShares } from './brake-applications.ts'
import { brakeEnergy } from './brake-energy.ts'
import { brakeFeel } from './brake-feel.ts'
import { brakeSplit } from './brake-split.ts'
import { fileMap } from './file-map.ts'
import { lockMargin } from './lock-margin.ts'
import { regenDelay } from './regen-delay.ts'
import { regenLimited } from './regen-limited.ts'
import { type RegenFit, regenMap } from './regen-map.ts'
import { LEAST_LIFT_NM } from './regen-rows.ts'
import { regenTuning } from './regen-tuning.ts'
import type { Figure } from './slowing-figures.ts'
import { curveOf } from './slowing-map.ts'

type Regen = NonNullable<Review['regen']>

/** The review's `regen` section: every figure of the one map, and what else this drive's braking shows. */
export function regenSection(facts: Facts): Regen {
  const trace = facts.once(brakeTrace)!
  const fit = facts.once(regenMap)!
  const tuning = facts.once(regenTuning)
  const pressure = trace.input === 'pressure'
  const delay = facts.once(regenDelay)
  return {
    zero_bar: pressure ? trace.zero : null,
    form: fit.form,
    ...figure('lift_nm', fit.liftNm),
    ...figure('brake_max_nm', fit.brakeNm),
    fade_kmh_bound: 'exact',
    lift_fade_kmh: pair(fit.liftFadeKmh),
    lift_fade_kmh_plus_minus: widest(fit.liftFadeKmh),
    lift_fade_kmh_bound: 'exact',
    ...friction(facts, pressure),
    ...limitedShare(facts),
    ...locking(facts),
    curve: pressure ? seenCurve(fit) : [],
    file_curve: pressure ? fileCurve(facts, fit) : [],
    feel: facts.once(brakeFeel).map(({ plusMinus, limitSource, ...each }) => ({
      ...each,
      plus_minus: plusMinus,
      limit_source: limitSource,
    })),
    ...figure('start_bar', pressure ? fit.start : null),
    ...figure('full_bar', pressure ? fit.full : null),
    ...figure('max_nm', fit.maxNm),
    fade_kmh: pair(fit.fadeKmh),
    fade_kmh_plus_minus: widest(fit.fadeKmh),
    delay_s: delay?.delayS ?? null,
    delay_s_plus_minus: delay?.plusMinusS ?? null,
    ...applications(facts, pressure),
    ...recovered(facts),
    replays: [...tuning.replays],
    proposals: tuning.proposals.map(({ asTried: _, ...told }) => told),
    proposals_withheld: tuning.withheld,
    to_propose: tuning.toDrive,
  }
}

type Named<N extends string> = { [key in N]: number | null } & {
  [key in `${N}_plus_minus`]: number | null
} & {
  [key in `${N}_bound`]: Figure['bound']
}

function figure<N extends string>(name: N, found: Figure | null): Named<N> {
  return {
    [name]: found?.value ?? null,
    [`${name}_plus_minus`]: found?.plusMinus ?? null,
    [`${name}_bound`]: found?.bound ?? 'exact',
  } as Named<N>
}

type Pair = readonly [Figure, Figure] | null
const pair = (found: Pair): [number, number] | null => (found ? [found[0].value, found[1].value] : null)
const widest = (found: Pair): number | null =>
  found ? Math.max(found[0].plusMinus ?? 0, found[1].plusMinus ?? 0) : null

function friction(facts: Facts, pressure: boolean): Named<'friction_per_bar'> {
  const split = facts.once(brakeSplit)
  const known = pressure && split && split.perPress !== null
  return figure(
    'friction_per_bar',
    known ? { value: split.perPress!, plusMinus: split.perPressPlusMinus, bound: 'exact' } : null,
  )
}

function limitedShare(facts: Facts): Named<'limited_share_percent'> {
  const limited = facts.once(regenLimited)
  const told = limited && limited.brakingS > 0
  return figure(
    'limited_share_percent',
    told ? { value: limited.sharePercent, plusMinus: limited.sharePlusMinus, bound: 'exact' } : null,
  )
}

function locking(facts: Facts): Named<'lock_margin'> & Pick<Regen, 'lift_lock_margin'> {
  const margin = facts.once(lockMargin)
  return { ...figure('lock_margin', margin?.grip ?? null), lift_lock_margin: margin?.liftGrip ?? null }
}

/** The map's line up to the highest press that was seen; where no lift-off was seen, from where the presses begin. */
function seenCurve(fit: RegenFit, upTo = fit.reachedPress): [number, number][] {
  const { map, liftNm, start } = fit
  const unparted = start?.bound === 'at-most'
  const hidden = unparted || (liftNm === null && map.liftNm >= LEAST_LIFT_NM)
  return curveOf(map, upTo, hidden ? Math.min(unparted ? start.value : map.start, upTo) : 0)
}

/** The vehicle file's map, joined with lift-off as this drive showed it. */
function fileCurve(facts: Facts, fit: RegenFit): [number, number][] {
  const map = fileMap(facts.vehicle, fit.map)
  return map ? seenCurve({ ...fit, map }, Math.max(fit.reachedPress, map.full)) : []
}

function applications(facts: Facts, pressure: boolean): Pick<Regen, 'applications' | 'limited_by'> {
  const limited = facts.once(regenLimited)
  const share = facts.once(regenShares)
  return {
    applications: facts.once(brakeApplications).map((each, at) => ({
      span_s: [each.span[0], each.span[1]],
      from_kmh: each.fromKmh,
      to_kmh: each.toKmh,
      peak_bar: pressure ? each.peak : null,
      peak_regen_nm: each.peakNm,
      recovered_wh: each.chargedWh,
      peak_charge_a: each.peakChargeA,
      deceleration_ms2: each.decelerationMs2,
      deceleration_ms2_plus_minus: each.decelerationPlusMinus,
      share_regen_percent: share?.[at] ?? null,
      limited_by: limited?.perApplication[at] ?? null,
    })),
    limited_by: (limited?.causes ?? []).map(({ cause, timeS, lostWh }) => ({
      cause,
      time_s: timeS,
      lost_wh: lostWh,
    })),
  }
}

function recovered(
  facts: Facts,
): Pick<Regen, 'recovered_wh' | 'recovered_wh_plus_minus' | 'share_percent' | 'share_percent_plus_minus'> {
  const energy = facts.once(brakeEnergy)
  const wh = energy ? (energy.inWh[energy.inWh.length - 1] ?? 0) : null
  const drawn = energy ? (energy.outWh[energy.outWh.length - 1] ?? 0) : null
  return {
    recovered_wh: wh,
    recovered_wh_plus_minus: energy && wh !== null ? (wh * energy.scalePercent) / 100 : null,
    share_percent: wh !== null && drawn ? (wh / drawn) * 100 : null,
    share_percent_plus_minus: null,
  }
}
