import type { Review } from '../../../shared/review.ts'
import { BRAKE_CHANGE, LOCAL_RULES } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { quantile } from '../../math/stats.ts'
import { RAISED_NM } from './axle-lock.ts'
import { brakeApplications } from './brake-applications.ts'
import { lockOf, type Permit, raisesNm } from './map-permit.ts'
import { mapTable } from './map-table.ts'
import type { RegenFit } from './regen-map.ts'
import { asRegenMap, energyChange, pressFor, replay } from './replay.ts'
import { type ReplayModel, shownOf } from './replay-model.ts'
import { reachedAt, type SlowingMap, slowingNm, totalNm } from './slowing-map.ts'

/** Less does not change a figure with one decimal that is set in half steps. */
const SHOWN = 0.25

export type Aim = 'natural' | 'more' | 'gentler'
type Told = NonNullable<Review['regen']>['proposals'][number]
export type Proposal = Told & {
  /** The map itself, uncut. */
  readonly asTried: SlowingMap
}

const AIMS: Readonly<Record<Aim, string>> = {
  natural: 'natural: each bar slows the car alike, from the first bar to usual presses',
  more: 'more energy recovered on the same stops',
  gentler: 'gentler',
}
/** Speed at which a press with regeneration gone is told, km/h. */
const PRESS_KMH = 40
/** A gain of energy must be more than this share of its own uncertainty beside the scale of the current. */
const SURE = 1

/** The proposal in words and figures; null where a promised gain of energy is not surely one. */
export function proposalOf(
  facts: Facts,
  model: ReplayModel,
  fit: RegenFit,
  permit: Permit,
  map: SlowingMap,
  aim: Aim,
  uneven: { readonly before: number; readonly after: number },
  gains: readonly string[],
): Proposal | null {
  const asDriven = replay(model, model.driven, 'same-deceleration')
  const replays = [replay(model, map, 'same-pressure'), replay(model, map, 'same-deceleration')]
  const after = replays[1]!
  const scale = (model.scalePercent / 100) * (after.recovered_wh ?? 0)
  const own = Math.sqrt(Math.max(0, (after.recovered_wh_plus_minus ?? 0) ** 2 - scale ** 2))
  if (aim === 'more' && !((after.recovered_wh ?? 0) - (asDriven.recovered_wh ?? 0) > SURE * own)) return null
  const change = energyChange(model, map)
  const cut = shownOf({ ...fit, map })
  const before = shownOf(fit)
  const changes = [
    changed('start', before.start, map.start, 'bar'),
    ...(fit.maxNm.bound === 'exact'
      ? [
          changed('full pressure', reachedAt(before), reachedAt(map), 'bar'),
          changed('most', totalNm(before), totalNm(map), 'N·m'),
        ]
      : []),
    changed('end of the fade', before.fade[1], map.fade[1], 'km/h'),
    ...(before.step
      ? [`the jump of ${before.step.nm.toFixed(0)} N·m at ${before.step.at.toFixed(1)} bar taken out`]
      : []),
  ].filter((each) => each !== null)
  const upTo = Math.round(fit.reachedPress * 10) / 10
  const controller = facts.vehicle.controller_max_nm ?? null
  return {
    asTried: map,
    map: asRegenMap(cut),
    aim,
    aims: [AIMS[aim], ...gains],
    reason: `${changes.join(', ')}.${feel(uneven)}${beyond(fit, upTo)}${grip(permit, map)}${energy(model, after, change)}`,
    energy_change_percent: change?.percent ?? null,
    energy_change_percent_plus_minus: change?.plusMinus ?? null,
    uneven_percent: finite(uneven.after),
    uneven_percent_before: finite(uneven.before),
    table: { ...mapTable(map, upTo, controller), up_to_bar: upTo },
    replays,
    without_regen: withoutRegen(facts, model, map),
    cautions: [BRAKE_CHANGE, LOCAL_RULES],
  }
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null)

function feel({ before, after }: { before: number; after: number }): string {
  return Number.isFinite(before + after)
    ? ` Slowing per bar departs from its mean by ${after.toFixed(0)} % at most, ${before.toFixed(0)} % today.`
    : ''
}

function beyond(fit: RegenFit, upTo: number): string {
  return fit.maxNm.bound === 'exact'
    ? ''
    : ` The drive did not reach the map\u2019s end: beyond ${upTo.toFixed(1)} bar the controller\u2019s table stays as it is.`
}

function grip(permit: Permit, map: SlowingMap): string {
  const raised = raisesNm(permit, map)
  if (!(raised > RAISED_NM)) return ' It raises regeneration nowhere above what the drive showed.'
  const lock = lockOf(permit, map)
  return ` It raises regeneration by up to ${raised.toFixed(0)} N·m; at the worst raised point (${lock.atBar.toFixed(0)} bar, ${lock.atKmh} km/h) the driven axle uses ${(100 * lock.worstShare).toFixed(0)} % of what the low-grip check allows.`
}

function energy(model: ReplayModel, after: Proposal['replays'][number], change: Change): string {
  if (after.recovered_wh === null || after.recovered_wh_plus_minus === null) return ''
  return ` Energy recovered on this drive ${model.chargedWh.toFixed(0)} → ${after.recovered_wh.toFixed(0)} ± ${after.recovered_wh_plus_minus.toFixed(0)} Wh for the same stops.${onOthers(change)}`
}

type Change = ReturnType<typeof energyChange>

const onOthers = (change: Change): string =>
  change
    ? ` On other roads of this kind ${change.percent < 0 ? '' : '+'}${change.percent.toFixed(0)} \u00b1 ${change.plusMinus.toFixed(0)} %.`
    : ''

function changed(what: string, from: number, to: number, unit: string): string | null {
  return Math.abs(to - from) < SHOWN ? null : `${what} ${from.toFixed(1)} → ${to.toFixed(1)} ${unit}`
}

/** The same press with regeneration gone (full battery, cold, limit, contactors open), in words with figures. */
function withoutRegen(facts: Facts, model: ReplayModel, map: SlowingMap): string {
  const friction = model.frictionNm!
  const presses = facts.once(brakeApplications).map((each) => each.peak)
  const bar = quantile(presses, 0.5)
  const alone = model.perNm * friction * Math.max(0, bar - model.biteBar)
  const both = alone + model.perNm * slowingNm(map, bar, PRESS_KMH)
  const none: SlowingMap = { ...map, brakeNm: 0, liftNm: 0, step: null }
  const needed = pressFor(none, PRESS_KMH, both / model.perNm, friction, model.biteBar)
  const unsure = model.frictionPlusMinusNm / friction
  return `At ${bar.toFixed(0)} bar and ${PRESS_KMH} km/h the brakes slow the car by ${both.toFixed(1)} m/s² with this map; with regeneration gone the same press gives ${alone.toFixed(1)} ± ${(alone * unsure).toFixed(1)} m/s², and ${needed.toFixed(0)} bar are needed for the same stop.`
}
