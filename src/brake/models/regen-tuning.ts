import type { Review } from '../../../shared/review.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { axleOf, needOfGrip } from './axle-lock.ts'
import { brakeApplications } from './brake-applications.ts'
import { type Slows, startJumpNm, unevenPercent, usualPress } from './brake-feel.ts'
import { brakeSwitchPressure } from './brake-switch-pressure.ts'
import { fileMap } from './file-map.ts'
import { lockMargin } from './lock-margin.ts'
import { candidateMaps } from './map-candidates.ts'
import { allowedMap, type Permit, permitFor } from './map-permit.ts'
import { type Aim, type Proposal, proposalOf } from './proposal.ts'
import { type RegenFit, regenMap } from './regen-map.ts'
import { LEAST_LIFT_NM } from './regen-rows.ts'
import { asDriven, quickWh, replay } from './replay.ts'
import { type ReplayModel, replayModel, thinned } from './replay-model.ts'
import { type SlowingMap, totalNm } from './slowing-map.ts'

export type Replays = NonNullable<Review['regen']>['replays']

export interface Tuning {
  /** The map as driven (and the vehicle file's where it differs), replayed for both drivers. */
  readonly replays: Replays
  readonly proposals: readonly Proposal[]
  readonly withheld: string | null
  /** What to drive where the drive shows too little; the review leaves it out while the road is closed. */
  readonly toDrive: string | null
}

/** A firm stop that a driver makes every day, m/s², and what is felt as one jerk, s. Common practice, no source. */
const FIRM_MS2 = 3
const JERK_S = 0.06
/** Fewer presses, or none slower than this, show too little to change a map by. Common practice, no source. */
const FEWEST_PRESSES = 5
const FIRM_ENOUGH_MS2 = 1.2
/**
 * A share of the energy that a change must gain, or may lose for what else it gains; points of evenness. Common
 * practice, no source.
 */
const GAINS = 1.03
const KEEPS = 0.97
const LOSES_FOR_MUCH = 0.9
const EVENER = 10
const MUCH_EVENER = 30
/** A jump at the start that a driver feels, N·m. Common practice, no source. */
const JUMP_NM = 5
/** The search looks at every so many moments of the drive. */
const THIN = 4

/**
 * Maps that would do better on this drive: points on the front of recovered energy against evenness of feel.
 *
 * Aims:  natural (m/s² per bar alike from the first bar to usual presses), more recovered, gentler (no jump at the start,
 *        none over the limit where a firm stop crosses the fade, the driven axle's need of grip within its limit).
 * Held:  a map that raises torque above what the drive showed at that press and speed needs the check against the driven
 *        axle locking first (`map-permit.ts`); the peak charge current stays within the limit at the coldest moment;
 *        beyond the highest press that was seen the controller's table stays as it is.
 * Not shown: what loses energy and gains nothing. Where the drive saw too little, what to drive is said instead.
 */
export function regenTuning(facts: Facts): Tuning {
  const model = facts.once(replayModel)
  const fit = facts.once(regenMap)
  const none = (withheld: string, replays: Replays = [], drive: string | null = null): Tuning => ({
    replays,
    proposals: [],
    withheld,
    toDrive: drive,
  })
  if (!model || !fit)
    return none('the drive shows no regeneration map, or lacks motor speed or battery power to replay it')
  if (fit.start?.bound === 'at-least') return none('regeneration does not follow the press in this drive')
  const replays: Replays = [asDriven(model, 'same-pressure'), asDriven(model, 'same-deceleration')]
  const file = fileMap(facts.vehicle, model.driven)
  if (file) replays.push(replay(model, file, 'same-pressure'), replay(model, file, 'same-deceleration'))
  if (fit.formOpen && fit.map.liftNm >= LEAST_LIFT_NM) return none(OPEN_FORM, replays, SHOW_FORM.text)
  if (model.frictionNm === null)
    return none(
      'friction per bar cannot be told from this drive, so the same press with regeneration gone cannot be shown',
      replays,
    )
  const little = tooLittle(facts, fit)
  if (little) return none(little, replays, SHOW_MORE.text)
  const permit = permitFor(facts, model, fit)
  const { proposals, reasons } = chosen(facts, model, fit, permit)
  return {
    replays,
    proposals,
    withheld:
      proposals.length > 0
        ? reasons || null
        : reasons ||
          'the map of this drive recovers and feels as well as any that was tried within what the drive showed',
    toDrive: null,
  }
}

/** Why this drive shows too little to change a map by; null where it shows enough. */
function tooLittle(facts: Facts, fit: RegenFit): string | null {
  const presses = facts.once(brakeApplications)
  const firm = presses.some((each) => (each.decelerationMs2 ?? 0) > FIRM_ENOUGH_MS2)
  const lacks = [
    ...(presses.length < FEWEST_PRESSES ? [`only ${presses.length} presses`] : []),
    ...(firm ? [] : ['no firm press']),
    ...(fit.fadeKmh ? [] : ['no press below 20 km/h']),
  ]
  if (lacks.length === 0) return null
  return `the drive shows too little: ${lacks.join(', ')}`
}

/** A brake part typed in would give another torque in the one form than in the other: nothing is foretold then. */
const OPEN_FORM =
  'whether the brake adds to lift-off, takes its place, or the larger of both counts cannot be told from this drive, and the same table would give another torque in each'
const SHOW_FORM = toDrive(
  'coast from 50 km/h with both pedals free, then press the brake very lightly and slowly harder, each time down to walking pace',
  'after ten times',
)
const SHOW_MORE = toDrive('brake from 50 km/h to standstill, lightly and firmly in turn', 'after ten stops')

interface Tried {
  readonly map: SlowingMap
  readonly wh: number
  readonly uneven: number
}

function chosen(
  facts: Facts,
  model: ReplayModel,
  fit: RegenFit,
  permit: Permit,
): { proposals: Proposal[]; reasons: string } {
  const today = model.driven
  const slows: Slows = { perNm: model.perNm, perPress: model.perNm * model.frictionNm!, bite: model.biteBar }
  const usual = Math.min(usualPress(facts), fit.reachedPress)
  const small = thinned(model, THIN)
  const judge = (map: SlowingMap): Tried => ({
    map,
    wh: quickWh(small, map),
    uneven: unevenPercent(map, slows, usual),
  })
  const now = judge(today)
  const reasons = new Set<string>()
  const tried: Tried[] = []
  for (const map of candidateMaps({
    today,
    ended: fit.maxNm.bound === 'exact',
    reachedBar: fit.reachedPress,
    starts: possibleStarts(facts, model),
    usualBar: usual,
    fadeWidthKmh: fadeWidth(facts, today),
    totals: totalsWithinGrip(facts, fit),
  })) {
    const refused = allowedMap(permit, map)
    if (refused === null) tried.push(judge(map))
    else reasons.add(refused)
  }
  const proposals: Proposal[] = []
  const propose = (found: Tried | null, aim: Aim, gains: readonly string[] = []): void => {
    if (!found || proposals.some((each) => sameMap(each.asTried, found.map))) return
    const made = proposalOf(
      facts,
      model,
      fit,
      permit,
      found.map,
      aim,
      {
        before: now.uneven,
        after: found.uneven,
      },
      gains,
    )
    if (made) proposals.push(made)
  }
  propose(natural(tried, now), 'natural')
  propose(more(tried, now), 'more')
  const soft = gentler(facts, tried, now)
  propose(soft.found, 'gentler', soft.gains)
  // what stood in the way is only worth saying where it kept something better back
  const better = reasons.size > 0 && (proposals.length === 0 || permit.missing.length > 0)
  return { proposals, reasons: better ? [...reasons].join('; ') : '' }
}

const sameMap = (a: SlowingMap, b: SlowingMap): boolean => JSON.stringify(a) === JSON.stringify(b)

const bestBy = (all: readonly Tried[], figure: (each: Tried) => number): Tried | null =>
  all.reduce<Tried | null>((a, b) => (a && figure(a) >= figure(b) ? a : b), null)

/** The evenest that keeps the energy; one that loses some of it only where it is far evener. */
function natural(tried: readonly Tried[], now: Tried): Tried | null {
  const evener = (by: number, least: number): Tried | null =>
    bestBy(
      tried.filter((each) => each.wh >= least * now.wh && each.uneven <= now.uneven - by),
      // of maps that are as even to the point, the one that recovers most
      (each) => -Math.round(each.uneven) + each.wh / (10 * now.wh),
    )
  return evener(EVENER, KEEPS) ?? evener(MUCH_EVENER, LOSES_FOR_MUCH)
}

function more(tried: readonly Tried[], now: Tried): Tried | null {
  return bestBy(
    tried.filter((each) => each.wh >= GAINS * now.wh && !(each.uneven > now.uneven + EVENER)),
    (each) => each.wh,
  )
}

/** Of the maps without what is harsh today, the one that recovers most, and what it gains; null where nothing is harsh. */
function gentler(
  facts: Facts,
  tried: readonly Tried[],
  now: Tried,
): { found: Tried | null; gains: readonly string[] } {
  const margin = facts.once(lockMargin)
  const limit = facts.limits.lockGrip.attention ?? Number.POSITIVE_INFINITY
  const steep = (map: SlowingMap): boolean => map.fade[1] - map.fade[0] < fadeWidth(facts, map) - 0.5
  const grips = margin?.axle === 'rear' && (margin.grip?.value ?? 0) > limit
  const within = new Set(grips ? totalsWithinGrip(facts, facts.once(regenMap)!) : [])
  const most = Math.max(...within) + 0.5
  const harsh: readonly {
    readonly now: boolean
    readonly gone: (map: SlowingMap) => boolean
    readonly says: string
  }[] = [
    {
      now: now.map.step !== null && now.map.step.nm > JUMP_NM,
      gone: (map) => Math.abs(startJumpNm(map)) < JUMP_NM,
      says: 'no jump in the map',
    },
    {
      now: steep(now.map),
      gone: (map) => !steep(map),
      says: `no step over ${facts.limits.regenStepNm.attention} N·m where a firm stop crosses the fade`,
    },
    {
      now: grips && within.size > 0,
      gone: (map) => totalNm(map) <= most,
      says: `regeneration alone needs a grip of ${limit} of the rear axle at most`,
    },
  ]
  const open = harsh.filter((each) => each.now)
  if (open.length === 0) return { found: null, gains: [] }
  const soft = tried.filter((each) => open.every(({ gone }) => gone(each.map)))
  return { found: bestBy(soft, (each) => each.wh), gains: open.map((each) => each.says) }
}

/** A fade so wide that a firm stop crosses it without a step over the limit, km/h. */
function fadeWidth(facts: Facts, map: SlowingMap): number {
  const crossed = FIRM_MS2 * 3.6 * JERK_S
  return (totalNm(map) * crossed) / (facts.limits.regenStepNm.attention ?? 15)
}

/** Where the switch makes, else the file's start; where the pads bite. Only sooner than today. */
function possibleStarts(facts: Facts, model: ReplayModel): number[] {
  const makes = facts.once(brakeSwitchPressure)?.bar ?? facts.vehicle.brake?.regen_start_bar
  return [...(makes === undefined ? [] : [makes]), Math.max(0.5, model.biteBar)].filter(
    (bar) => bar < model.driven.start - 0.3,
  )
}

/** The most at which the driven rear axle's need of grip is within its limit, N·m; none where that cannot be told. */
function totalsWithinGrip(facts: Facts, fit: RegenFit): number[] {
  const margin = facts.once(lockMargin)
  const limit = facts.limits.lockGrip.attention
  if (!margin?.grip || margin.axle !== 'rear' || limit === null || margin.grip.value <= limit) return []
  const { axles } = axleOf(facts.vehicle, null)
  if (axles.length === 0) return []
  let nm = fit.reachedNm
  while (nm > 1 && axles.some((axle) => needOfGrip(axle, nm) > limit)) nm *= 0.98
  return [nm]
}
