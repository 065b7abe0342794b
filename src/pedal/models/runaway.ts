import type { Facts } from '../../facts/facts.ts'
import type { HeldRun } from '../../math/held-runs.ts'
import { median, quantile } from '../../math/stats.ts'
import { CREEP_KMH, HANDOVER_S, stands } from './creep-and-hold.ts'
import { type CruiseSpell, cruiseSpells } from './cruise-spells.ts'
import { pull } from './pull.ts'
import { type ReleasedTorque, releasedTorque } from './released-torque.ts'

/** Why a stretch of torque with the pedal released is a stop, whatever a file or channel says. */
export interface Runaway {
  readonly rule: 'brake' | 'speed-rises' | 'beyond-creep' | 'as-at-release' | 'no-such-function'
  readonly why: string
}

/** The contract's figures. */
const BRAKED_S = 0.5
const SLOW_KMH = 25
const CREEP_MS2 = 0.6
const CREEP_PEAK_SHARE = 0.25
const SAME_SHARE = 0.2
const SAME_RISE_KMH = 5
/** Speed that rises by more than cruise control lets it wander (±3 km/h) goes on rising. Common practice, no source. */
const RISES_KMH = 6
/** So many samples, and this share, may be off the release's torque: noise of the inverter's estimate is let through. */
const OFF_SAMPLES = 3
const OFF_SHARE = 0.1
/** Without km/h: the motor's speed must rise by so much, as a share and in rpm. Common practice, no source. */
const RISES_RPM = 600
const HELD_S = 0.3
/** An inverter has ramped its torque after so long, s. Common practice, no source. */
const RAMP_S = 0.5
/** So many samples with the pedal pressed tell what the most drive torque of a drive is. */
const PRESSED_SAMPLES = 20

/**
 * Judges one run of torque with the pedal released against the rules that no cruise, creep or hold can excuse. Null:
 * none of them holds.
 * Biased by: creep's bound lacking a vehicle file, which is then the motor's most drive torque in this drive.
 * Source: the contract's rule (c for the pedal released); figures common practice.
 */
export function runaway(facts: Facts, run: HeldRun): Runaway | null {
  const all = facts.once(releasedTorque)
  if ('why' in all) return null
  const start = stretchStart(all, run.first)
  const spells = facts.once(cruiseSpells).filter((spell) => spell.first <= run.last && spell.last >= start)
  return (
    underBrake(facts, all, run) ??
    asAtRelease(all, run, start, spells) ??
    goesOnRising(facts, all, run, spells) ??
    beyondCreep(facts, all, run) ??
    noSuchFunction(facts, all, run)
  )
}

function underBrake(facts: Facts, all: ReleasedTorque, run: HeldRun): Runaway | null {
  const { brake, data, counted } = all
  if (!brake) return null
  const { timeS } = data
  let since = Number.NaN
  for (let i = run.first; i > 0 && brake[i] === 1; i--) since = timeS[i]!
  let over = 0
  for (let i = run.first; i <= run.last; i++) {
    if (brake[i] !== 1) {
      since = Number.NaN
      continue
    }
    if (Number.isNaN(since)) since = timeS[i]!
    const beyond = !stands(all, i) && counted[i]! > creepLimit(facts, all, data.kmh[i]!)
    over = beyond && timeS[i]! - since > BRAKED_S ? over + 1 : 0
    if (over >= 2)
      return {
        rule: 'brake',
        why: `the brake had been pressed for ${(timeS[i]! - since).toFixed(1)} s while the car moved`,
      }
  }
  return null
}

/**
 * Torque within 20 % of what it was at the release while the speed rises by over 5 km/h: no controller, a stuck one.
 * What came up within the inverter's ramp is what the release brought.
 */
function asAtRelease(
  all: ReleasedTorque,
  run: HeldRun,
  start: number,
  spells: readonly CruiseSpell[],
): Runaway | null {
  const { timeS } = all.data
  if (timeS[run.first]! - timeS[start]! > HELD_S) return null
  let ramped = start
  while (ramped < run.last && timeS[ramped]! - timeS[start]! < RAMP_S) ramped++
  return staysFrom(all, run, start, spells) ?? staysFrom(all, run, ramped, spells)
}

function staysFrom(
  all: ReleasedTorque,
  run: HeldRun,
  from: number,
  spells: readonly CruiseSpell[],
): Runaway | null {
  const { driveNm, kmh } = all.data
  const at = median(driveNm.subarray(from, from + 3))
  let off = 0
  for (let i = from; i <= run.last; i++) {
    if (!(Math.abs(driveNm[i]! - at) <= SAME_SHARE * Math.abs(at))) off++
    if (off > OFF_SAMPLES + OFF_SHARE * (i - from)) return null
    if (spells.some((spell) => i >= spell.first && i <= spell.last)) continue
    if (risen(all, from, i) > SAME_RISE_KMH)
      return {
        rule: 'as-at-release',
        why: Number.isFinite(kmh[i]!)
          ? `the torque stayed at the ${at.toFixed(0)} N\u00b7m of the release while the speed rose from ${kmh[from]!.toFixed(0)} to ${kmh[i]!.toFixed(0)} km/h`
          : `the torque stayed at the ${at.toFixed(0)} N\u00b7m of the release while the motor\u2019s speed rose`,
      }
  }
  return null
}

function goesOnRising(
  facts: Facts,
  all: ReleasedTorque,
  run: HeldRun,
  spells: readonly CruiseSpell[],
): Runaway | null {
  if (spells.length > 0 || facts.vehicle.pedal?.cruise === true) return null
  const { kmh } = all.data
  let lowest = run.first
  for (let i = run.first; i <= run.last; i++) {
    if (all.cruiseOn?.[i] === 1) return null
    if (kmh[i]! < kmh[lowest]! || Number.isNaN(kmh[lowest]!)) lowest = i
    const outside = !(kmh[i]! <= CREEP_KMH)
    if (outside && risen(all, lowest, i) > RISES_KMH)
      return {
        rule: 'speed-rises',
        why: Number.isFinite(kmh[i]!)
          ? `the speed rose from ${kmh[lowest]!.toFixed(0)} to ${fastest(kmh, lowest, run.last).toFixed(0)} km/h, out of what creep reaches, and nothing shows cruise control`
          : 'the motor\u2019s speed went on rising and nothing shows cruise control',
      }
  }
  return null
}

function beyondCreep(facts: Facts, all: ReleasedTorque, run: HeldRun): Runaway | null {
  const { timeS, kmh } = all.data
  const { nm: limit, from } = creepBound(facts, all)
  let since = Number.NaN
  let braked = Number.NaN
  for (let i = run.first; i <= run.last; i++) {
    const standing = stands(all, i)
    if (all.brake?.[i] !== 1 || !standing) braked = Number.NaN
    else if (Number.isNaN(braked)) braked = timeS[i]!
    // a standing car is held by its motor, but not for long against its own brake
    const counts = kmh[i]! < SLOW_KMH && (!standing || timeS[i]! - braked > HANDOVER_S)
    if (!(counts && all.counted[i]! > limit)) since = Number.NaN
    else if (Number.isNaN(since)) since = timeS[i]!
    else if (timeS[i]! - since > HELD_S)
      return {
        rule: 'beyond-creep',
        why: `at ${kmh[i]!.toFixed(0)} km/h it is beyond the ${limit.toFixed(0)} N\u00b7m that creep may give (${from})`,
      }
  }
  return null
}

/** The vehicle file says that the car has neither cruise control nor creep or hold, or their channels say off. */
function noSuchFunction(facts: Facts, all: ReleasedTorque, run: HeldRun): Runaway | null {
  const { cruise, hold } = facts.vehicle.pedal ?? {}
  const off = (channel: Float64Array | null): boolean =>
    channel?.subarray(run.first, run.last + 1).every((value) => value === 0) ?? false
  const noCruise = cruise === false || off(all.cruiseOn)
  const noHold = hold === false || off(all.holdOn)
  let slowest = Number.POSITIVE_INFINITY
  for (let i = run.first; i <= run.last; i++) slowest = Math.min(slowest, all.data.kmh[i]!)
  const tooFast = slowest > SLOW_KMH
  if (!noCruise || !(noHold || tooFast)) return null
  if (withinDeclaredCreep(facts, all, run)) return null
  const says = (file: boolean, name: string): string =>
    `${name} is ${file ? 'not in the car by the vehicle file' : 'logged as off'}`
  return {
    rule: 'no-such-function',
    why: `${says(cruise === false, 'cruise control')}${tooFast && !noHold ? ', and creep does not reach such speed' : `, and ${says(hold === false, 'creep or hill hold')}`}`,
  }
}

/** Torque that the vehicle file allows as creep, at walking pace and with no brake held while moving. */
export function withinDeclaredCreep(facts: Facts, all: ReleasedTorque, run: HeldRun): boolean {
  const allowed = facts.vehicle.pedal?.creep_max_nm
  if (allowed === undefined) return false
  for (let i = run.first; i <= run.last; i++)
    if (!(all.data.kmh[i]! < CREEP_KMH) || all.counted[i]! > allowed) return false
  return true
}

/** Drive torque that creep may give at this speed, N·m; over the released limit where creep does not reach. */
function creepLimit(facts: Facts, all: ReleasedTorque, kmh: number): number {
  const declared = facts.vehicle.pedal?.creep_max_nm !== undefined
  const bar = facts.limits.releasedTorqueNm.stop ?? Number.NaN
  return kmh < (declared ? SLOW_KMH : CREEP_KMH) ? Math.max(bar, creepBound(facts, all).nm) : bar
}

function creepBound(facts: Facts, all: ReleasedTorque): { readonly nm: number; readonly from: string } {
  const declared = facts.vehicle.pedal?.creep_max_nm
  if (declared !== undefined) return { nm: declared, from: 'vehicle file' }
  const { mass_kg: mass, wheel_radius_m: radius, gear_ratio: gear } = facts.vehicle.car ?? {}
  const ratio = Array.isArray(gear) ? Math.max(...gear) : gear
  if (mass && radius && ratio)
    return { nm: (CREEP_MS2 * mass * radius) / ratio, from: `${CREEP_MS2} m/s\u00b2 of this car` }
  const own = facts.once(pull)
  if (own)
    return {
      nm: CREEP_MS2 / (OWN_SHARE * (own.perNm + own.plusMinus)),
      from: `${CREEP_MS2} m/s\u00b2 of this car, by its own pulls`,
    }
  const pressed = all.data.driveNm.filter((_, i) => all.released[i] !== 1)
  return {
    nm:
      pressed.length < PRESSED_SAMPLES
        ? Number.POSITIVE_INFINITY
        : CREEP_PEAK_SHARE * quantile(pressed, 0.995),
    from: 'a quarter of the most drive torque seen',
  }
}

/**
 * What a pull shows goes through gears (0.96) and turning masses (1.05) as well: mass and gear alone give more.
 * Common practice.
 */
const OWN_SHARE = 1.05 / 0.96

/** First sample of the released stretch that holds this one. */
function stretchStart({ released }: ReleasedTorque, at: number): number {
  let first = at
  while (first > 0 && released[first - 1] === 1) first--
  return first
}

/** How far the speed rose between two samples, km/h; by the motor's speed where no road speed is logged. */
function risen({ data }: ReleasedTorque, from: number, to: number): number {
  if (Number.isFinite(data.kmh[to]!)) return data.kmh[to]! - data.kmh[from]!
  const rpm = Math.abs(data.rpm[to]!) - Math.abs(data.rpm[from]!)
  return rpm > RISES_RPM ? Number.POSITIVE_INFINITY : 0
}

function fastest(kmh: Float64Array, from: number, to: number): number {
  let most = kmh[from]!
  for (let i = from; i <= to; i++) most = Math.max(most, kmh[i]!)
  return most
}
