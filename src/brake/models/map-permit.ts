import { fieldsInWords } from '../../../shared/vehicle-words.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { quantile } from '../../math/stats.ts'
import { type AxleLock, axleLock, RAISED_NM, raisedNm } from './axle-lock.ts'
import type { RegenFit } from './regen-map.ts'
import { peakChargeA } from './replay.ts'
import { type ReplayModel, thinned } from './replay-model.ts'
import { type SlowingMap, totalNm } from './slowing-map.ts'
import { slipControl, wheelSlip } from './wheel-slip.ts'

/** What a proposed map is held to. */
export interface Permit {
  readonly facts: Facts
  readonly model: ReplayModel
  /** The drive at fewer moments, for quick figures. */
  readonly small: ReplayModel
  readonly highestBar: number
  readonly reachedNm: number
  /** Vehicle-file fields that the axle check lacks. */
  readonly missing: readonly string[]
  /** Slip in the log that forbids any increase; null where none. */
  readonly slip: string | null
  /** A, at the coldest logged moment; null where no limit is logged. */
  readonly limitA: number | null
  readonly todayA: number
}

/** Of the charge limit a proposal's peak may use this share. */
const LIMIT_SHARE = 0.95
/** Percent of slip from which on nothing may be raised. */
const SLIP_FORBIDS = 5
const THIN = 3

export function permitFor(facts: Facts, model: ReplayModel, fit: RegenFit): Permit {
  const slip = facts.once(wheelSlip)
  const small = thinned(model, THIN)
  const nothing = { ...model.driven, brakeNm: 0 }
  return {
    facts,
    model,
    small,
    highestBar: fit.reachedPress,
    reachedNm: fit.reachedNm,
    missing: axleLock(facts.vehicle, nothing, model.driven, 0, 0, 1).missing,
    slip:
      slipControl(facts) === true || slip?.controlActive
        ? 'slip or anti-lock control was at work in this drive, which forbids any increase of regeneration'
        : slip && slip.slipPercent > SLIP_FORBIDS
          ? 'a driven wheel slipped in this drive, which forbids any increase of regeneration'
          : null,
    limitA: coldestLimit(facts),
    todayA: peakChargeA(small, model.driven),
  }
}

/** Most that a map raises torque above the drive's own, up to the highest press that was seen, N·m. */
export const raisesNm = (permit: Permit, map: SlowingMap): number =>
  raisedNm(permit.model.driven, map, permit.highestBar)

/** The check against the driven axle locking first, for a map that raises torque. */
export function lockOf(permit: Permit, map: SlowingMap): AxleLock {
  const { facts, model, highestBar } = permit
  const friction = model.frictionNm! + model.frictionPlusMinusNm
  return axleLock(facts.vehicle, model.driven, map, friction, model.biteBar, highestBar)
}

/** Why a map may not be proposed; null where it may. */
export function allowedMap(permit: Permit, map: SlowingMap): string | null {
  const raised = raisesNm(permit, map)
  if (raised > RAISED_NM) {
    if (permit.slip) return permit.slip
    if (totalNm(map) > Math.max(permit.reachedNm, totalNm(permit.model.driven)) + RAISED_NM)
      return 'more torque than the drive reached is never proposed'
    if (permit.missing.length > 0)
      return `raising regeneration anywhere above what the drive showed needs the check against the driven axle locking first, and that needs ${fieldsInWords(permit.missing)} in the vehicle file`
    if (!lockOf(permit, map).holds)
      return 'with more regeneration at light presses the driven axle could lock first on low grip'
  }
  const { limitA, todayA } = permit
  if (limitA === null) return null
  const peak = peakChargeA(permit.small, map)
  return peak > LIMIT_SHARE * limitA && peak > todayA
    ? `the peak charge current would pass ${LIMIT_SHARE * 100} % of ${limitA.toFixed(0)} A, the charge limit at the coldest logged moment`
    : null
}

/** The charge limit while the cells were coldest (within 1 K), A; null where none is logged. */
function coldestLimit(facts: Facts): number | null {
  const limit = facts.drive.channels.get('charge_limit')
  if (!limit) return null
  const ready = limit.values.map(Math.abs).filter((a) => a > 2)
  if (ready.length < FEWEST_FOR_MEDIAN) return null
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
