import type { RegenMap, Review } from '../../../shared/review.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { BRAKE_CHANGE, LOCAL_RULES } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { quantile } from '../../math/stats.ts'
import { type AxleLock, axleLock, raisedNm } from './axle-lock.ts'
import { brakeApplications } from './brake-applications.ts'
import { brakeSwitchPressure } from './brake-switch-pressure.ts'
import { type MapShape, mapNm, regenMap } from './regen-map.ts'
import { pressFor, replay } from './replay.ts'
import { type ReplayModel, replayModel } from './replay-model.ts'
import { slipControl, wheelSlip } from './wheel-slip.ts'

type Proposal = NonNullable<Review['regen']>['proposals'][number]
type Replays = NonNullable<Review['regen']>['replays']

export interface Tuning {
  /** The map as driven (and the vehicle file's where it differs), replayed for both drivers. */
  readonly replays: Replays
  readonly proposals: readonly Proposal[]
  readonly withheld: string | null
}

/** A firm stop that a driver makes every day, m/s². Common practice, no source. */
const FIRM_MS2 = 3
/** A jump is what happens within this time, s; as in `regenStep`. */
const JUMP_S = 0.06
/** Of the charge limit a proposal's peak may use this share. */
const LIMIT_SHARE = 0.95
const RAISED_NM = 0.5
const PRESS_KMH = 40

/** What a proposal should bring about, with the figure that says whether the drive's map does so already. */
interface Aim {
  readonly text: string
  readonly met: boolean
  readonly change: (map: MapShape) => MapShape
}

/**
 * Proposals for start, full, ceiling and fade, each with its reason and the drive replayed with it.
 *
 * Aims: regeneration begins no later than the brake switch makes; no step over the limit when the fade is crossed in a
 * firm stop (3 m/s²); the driver's usual presses stay on one slope (full pressure at least the 90 % quantile of his
 * peak presses); peak charge current within the charge limit at the coldest logged moment.
 * A proposal that raises regeneration anywhere above what the drive showed is made only where the check against the
 * driven axle locking first has what it needs and holds, and where no wheel slipped: else it is withheld, and the
 * reason says what is missing. Others are cut back until they raise nothing.
 */
export function regenTuning(facts: Facts): Tuning {
  const model = facts.once(replayModel)
  const fit = facts.once(regenMap)
  if (!model || !fit)
    return {
      replays: [],
      proposals: [],
      withheld: 'the drive shows no regeneration map, or lacks motor speed or battery power to replay it',
    }
  if (fit.start?.bound === 'at-least')
    return { replays: [], proposals: [], withheld: 'regeneration does not follow the press in this drive' }
  const shown = asRegenMap(model.driven)
  const replays: Replays = [replay(model, shown, 'same-pressure'), replay(model, shown, 'same-deceleration')]
  const file = fileMap(facts)
  if (file) replays.push(replay(model, file, 'same-pressure'), replay(model, file, 'same-deceleration'))
  if (model.frictionNm === null)
    return {
      replays,
      proposals: [],
      withheld:
        'friction per bar cannot be told from this drive, so the same press with regeneration gone cannot be shown',
    }
  const aims = aimsFor(facts, model)
  const open = aims.filter((aim) => !aim.met)
  if (open.length === 0)
    return {
      replays,
      proposals: [],
      withheld: `nothing to propose: the map of this drive meets the aims (${aims.map((aim) => aim.text).join('; ')})`,
    }
  const reasons: string[] = []
  const proposals: Proposal[] = []
  const all = open.reduce((map, aim) => aim.change(map), model.shown)
  const settled = withinLimits(facts, model, all)
  const made = allowedMap(facts, model, settled, reasons)
  if (made)
    proposals.push(
      proposal(
        facts,
        model,
        made.map,
        open.filter((aim) => reached(aim, made.map)),
        made.lock,
      ),
    )
  const richer = made ? mostEnergy(facts, model, made.map) : null
  if (richer) proposals.push(proposal(facts, model, richer.map, [MORE_ENERGY], richer.lock))
  if (!made) {
    // what can be had without raising anything
    const lower = open.filter((aim) => raises(model, aim.change(model.shown)) <= RAISED_NM)
    if (lower.length > 0) {
      const map = withinLimits(
        facts,
        model,
        lower.reduce((each, aim) => aim.change(each), model.shown),
      )
      if (raises(model, map) <= RAISED_NM) proposals.push(proposal(facts, model, map, lower, null))
    }
  }
  return {
    replays,
    proposals,
    withheld:
      reasons.join('; ') ||
      (proposals.length > 0 ? null : 'no map that meets an aim stays within what the drive showed'),
  }
}

const MORE_ENERGY: Aim = {
  text: 'most energy recovered that the checks allow, with a start between the aim and the drive\u2019s own',
  met: false,
  change: (map) => map,
}

/** Starts between the aim's and the drive's, each flattened until the checks hold: the one that recovers most. */
function mostEnergy(
  facts: Facts,
  model: ReplayModel,
  from: MapShape,
): { map: MapShape; lock: AxleLock | null } | null {
  const energy = (map: MapShape): number =>
    replay(model, asRegenMap(map), 'same-deceleration').recovered_wh ?? 0
  const asDriven = energy(model.driven)
  let best: { map: MapShape; lock: AxleLock | null } | null = null
  let most = Math.max(energy(from), asDriven) * 1.01
  for (let k = 1; k < 8; k++) {
    const start = from.start + ((model.shown.start - from.start) * k) / 8
    const tried = allowedMap(
      facts,
      model,
      withinLimits(facts, model, { ...model.shown, fade: from.fade, start }),
      [],
    )
    if (!tried) continue
    const wh = energy(tried.map)
    if (wh <= most) continue
    most = wh
    best = tried
  }
  return best
}

function reached(aim: Aim, map: MapShape): boolean {
  const changed = aim.change(map)
  return (
    Math.abs(changed.start - map.start) < 0.6 &&
    Math.abs(changed.fade[1] - map.fade[1]) < 0.3 &&
    changed.maxNm >= map.maxNm - 0.5
  )
}

function aimsFor(facts: Facts, model: ReplayModel): Aim[] {
  const driven = model.shown
  const stepLimit = facts.limits.regenStepNm.attention ?? 15
  const makes = facts.once(brakeSwitchPressure)
  const given = facts.vehicle.brake?.regen_start_bar
  const begin = makes?.bar ?? given
  const presses = facts.once(brakeApplications).map((each) => each.peak)
  const usual = quantile(presses, 0.9)
  const crossed = FIRM_MS2 * 3.6 * JUMP_S
  const width = (driven.maxNm * crossed) / stepLimit
  const limitA = coldestLimit(facts)
  const peakA = replay(model, asRegenMap(driven), 'same-deceleration').peak_charge_a ?? 0
  const aims: Aim[] = []
  if (begin !== undefined)
    aims.push({
      text: `regeneration begins by ${begin.toFixed(1)} bar, where ${makes ? 'the brake switch makes' : 'the vehicle file puts it'}`,
      met: driven.start <= begin + 0.5,
      change: (map) => ({ ...map, start: Math.min(map.start, begin) }),
    })
  aims.push({
    text: `no step over ${stepLimit} N·m when a firm stop crosses the fade`,
    met: driven.fade[1] - driven.fade[0] >= width,
    change: (map) => {
      const needed = (map.maxNm * crossed) / stepLimit
      return { ...map, fade: [map.fade[0], Math.max(map.fade[1], map.fade[0] + needed)] }
    },
  })
  aims.push({
    text: `usual presses (up to ${usual.toFixed(0)} bar) stay on one slope, so each bar brakes alike`,
    met: driven.full >= 0.92 * usual,
    change: (map) => ({ ...map, full: Math.max(map.full, usual) }),
  })
  if (limitA !== null)
    aims.push({
      text: `peak charge current within ${limitA.toFixed(0)} A, the charge limit at the coldest logged moment`,
      met: peakA <= limitA,
      change: (map) => map, // the ceiling is cut by `withinLimits`
    })
  return aims
}

/** The charge limit while the cells were coldest (within 1 K), A; null where none is logged. */
function coldestLimit(facts: Facts): number | null {
  const limit = facts.drive.channels.get('charge_limit')
  if (!limit) return null
  const ready = limit.values.map(Math.abs).filter((a) => a > 2)
  if (ready.length < 3) return null
  const cold =
    facts.drive.channels.get('coldest_temperature') ?? facts.drive.channels.get('module_temperature.1')
  if (!cold) return quantile(ready, 0.02)
  const lowest = quantile(cold.values, 0.02)
  let at = 0
  let least = Number.POSITIVE_INFINITY
  for (let i = 0; i < limit.timeS.length; i++) {
    while (at + 1 < cold.timeS.length && cold.timeS[at + 1]! <= limit.timeS[i]!) at++
    const amps = Math.abs(limit.values[i]!)
    if (cold.values[at]! <= lowest + 1 && amps > 2) least = Math.min(least, amps)
  }
  return Number.isFinite(least) ? least : quantile(ready, 0.02)
}

/** Cuts the ceiling (and with it the full pressure, so that the slope stays) until the peak charge current fits. */
function withinLimits(facts: Facts, model: ReplayModel, map: MapShape): MapShape {
  const limitA = coldestLimit(facts)
  if (limitA === null) return map
  let now = map
  for (let round = 0; round < 12; round++) {
    const peak = replay(model, asRegenMap(now), 'same-deceleration').peak_charge_a ?? 0
    if (peak <= LIMIT_SHARE * limitA || peak === 0) break
    const share = Math.max(0.8, (LIMIT_SHARE * limitA) / peak)
    now = { ...now, maxNm: now.maxNm * share, full: now.start + (now.full - now.start) * share }
  }
  return now
}

const raises = (model: ReplayModel, map: MapShape): number =>
  raisedNm(model.shown, map, Math.max(60, 1.5 * model.shown.full))

/** The map, flattened if need be until the axle check holds; null where it may not raise anything. */
function allowedMap(
  facts: Facts,
  model: ReplayModel,
  map: MapShape,
  reasons: string[],
): { map: MapShape; lock: AxleLock | null } | null {
  if (raises(model, map) <= RAISED_NM) return { map, lock: null }
  const slip = facts.once(wheelSlip)
  const control = slipControl(facts)
  if (control === true || slip?.controlActive) {
    reasons.push(
      'slip or anti-lock control was at work in this drive, which forbids any increase of regeneration',
    )
    return null
  }
  if (slip && slip.slipPercent > SLIP_FORBIDS) {
    reasons.push('a driven wheel slipped in this drive, which forbids any increase of regeneration')
    return null
  }
  const highest = Math.max(60, 1.5 * model.shown.full)
  const friction = model.frictionNm! + model.frictionPlusMinusNm
  let lock = axleLock(facts.vehicle, model.shown, map, friction, model.biteBar, highest)
  if (lock.missing.length > 0) {
    reasons.push(
      `it would raise regeneration at light presses by up to ${raises(model, map).toFixed(0)} N·m; the check against the driven axle locking first needs ${lock.missing.join(', ')} in the vehicle file`,
    )
    return null
  }
  let flat = map
  for (let full = map.full; full <= 3 * map.full && !lock.holds; full += 0.5) {
    flat = { ...map, full }
    lock = axleLock(facts.vehicle, model.shown, flat, friction, model.biteBar, highest)
  }
  if (lock.holds) return { map: flat, lock }
  reasons.push('with more regeneration at light presses the driven axle could lock first on low grip')
  return null
}

/** Percent of slip from which on nothing may be raised. */
const SLIP_FORBIDS = 5

function proposal(
  facts: Facts,
  model: ReplayModel,
  shape: MapShape,
  aims: readonly Aim[],
  lock: AxleLock | null,
): Proposal {
  const map = rounded(asRegenMap(shape), model.shown)
  const before = model.shown
  const changes = [
    change('start', before.start, map.start_bar, 'bar'),
    change('full pressure', before.full, map.full_bar, 'bar'),
    change('ceiling', before.maxNm, map.max_nm, 'N·m'),
    change('end of the fade', before.fade[1], map.fade_kmh[1], 'km/h'),
  ].filter((each) => each !== null)
  const raised = raises(model, shape)
  const replays = [replay(model, map, 'same-pressure'), replay(model, map, 'same-deceleration')]
  const grip =
    raised > RAISED_NM && lock
      ? ` It raises regeneration by up to ${raised.toFixed(0)} N·m; at the worst raised point (${lock.atBar.toFixed(0)} bar, ${lock.atKmh} km/h) the driven axle uses ${(100 * lock.worstShare).toFixed(0)} % of what the low-grip check allows.`
      : ' It raises regeneration nowhere above what the drive showed.'
  return {
    map,
    aims: aims.map((aim) => aim.text),
    reason: `${changes.join(', ')}.${unreached(model)}${grip}${energyChange(model, replays)}`,
    replays,
    without_regen: withoutRegen(facts, model, shape),
    cautions: [BRAKE_CHANGE, LOCAL_RULES],
  }
}

function unreached(model: ReplayModel): string {
  return model.shown.maxNm < model.driven.maxNm
    ? ` The drive did not reach its ceiling: the proposal stays within the ${model.shown.maxNm.toFixed(0)} N·m that it showed.`
    : ''
}

function energyChange(model: ReplayModel, replays: Replays): string {
  const after = replays.find((each) => each.driver === 'same-deceleration')
  if (!after || after.recovered_wh === null || after.recovered_wh_plus_minus === null) return ''
  return ` Energy recovered on this drive ${model.chargedWh.toFixed(0)} → ${after.recovered_wh.toFixed(0)} ± ${after.recovered_wh_plus_minus.toFixed(0)} Wh for the same stops.`
}

function change(what: string, from: number, to: number, unit: string): string | null {
  return Math.abs(to - from) < 0.25 ? null : `${what} ${from.toFixed(1)} → ${to.toFixed(1)} ${unit}`
}

/** The same press with regeneration gone (full battery, cold, limit, contactors open), in words with figures. */
function withoutRegen(facts: Facts, model: ReplayModel, shape: MapShape): string {
  const friction = model.frictionNm!
  const presses = facts.once(brakeApplications).map((each) => each.peak)
  const bar = quantile(presses, 0.5)
  const alone = model.perNm * friction * Math.max(0, bar - model.biteBar)
  const both = alone + model.perNm * mapNm(shape, bar, PRESS_KMH)
  const none: MapShape = { ...shape, maxNm: 0, liftNm: 0 }
  const needed = pressFor(none, PRESS_KMH, both / model.perNm, friction, model.biteBar)
  const unsure = model.frictionPlusMinusNm / friction
  return `At ${bar.toFixed(0)} bar and ${PRESS_KMH} km/h the brakes slow the car by ${both.toFixed(1)} m/s² with this map; with regeneration gone the same press gives ${alone.toFixed(1)} ± ${(alone * unsure).toFixed(1)} m/s², and ${needed.toFixed(0)} bar are needed for the same stop.`
}

export function asRegenMap(shape: MapShape): RegenMap {
  return {
    start_bar: shape.start,
    full_bar: shape.full,
    max_nm: shape.maxNm,
    fade_kmh: [shape.fade[0], shape.fade[1]],
  }
}

/** To tenths as a controller's table takes them; what was changed never upward in torque. */
function rounded(map: RegenMap, driven: MapShape): RegenMap {
  const up = (value: number, step: number, before: number): number =>
    Math.abs(value - before) < step / 2 ? tenth(value) : tenth(Math.ceil(value / step - 1e-6) * step)
  const kept = Math.abs(map.max_nm - driven.maxNm) < 0.5
  return {
    start_bar: up(map.start_bar, 0.1, driven.start),
    full_bar: up(map.full_bar, 0.5, driven.full),
    max_nm: kept ? tenth(map.max_nm) : Math.floor(map.max_nm * 2 + 1e-6) / 2,
    fade_kmh: [tenth(map.fade_kmh[0]), up(map.fade_kmh[1], 0.5, driven.fade[1])],
  }
}

const tenth = (value: number): number => Math.round(value * 10) / 10

function fileMap(facts: Facts): RegenMap | null {
  const {
    regen_start_bar: start,
    regen_full_bar: full,
    regen_max_nm: max,
    fade_kmh: fade,
  } = facts.vehicle.brake ?? {}
  const trace = facts.once(brakeTrace)
  if (start === undefined || full === undefined || max === undefined || !fade || trace?.input !== 'pressure')
    return null
  return { start_bar: start, full_bar: full, max_nm: max, fade_kmh: [fade[0], fade[1]] }
}
