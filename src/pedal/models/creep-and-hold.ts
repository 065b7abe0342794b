import type { Facts } from '../../facts/facts.ts'
import { correlation } from '../../math/correlation.ts'
import { picked } from '../../math/picked.ts'
import { median, quantile } from '../../math/stats.ts'
import { type ReleasedTorque, releasedTorque } from './released-torque.ts'

/** Creep ends at jogging pace, km/h: the contract's figure. */
export const CREEP_KMH = 15
/** Below this the car counts as standing: WLTP's stop is under 1 km/h (UN GTR 15), doubled for noisy wheel sensors. */
export const STANDING_KMH = 2
/** Motor speed of a standing car where no road speed is logged, rpm. */
const STANDING_RPM = 150
/** Brake and hill hold overlap for so long where one takes over from the other, s. Common practice, no source. */
export const HANDOVER_S = 1
/** Rolling at all, km/h: from here on torque is compared with speed. */
const ROLLS_KMH = 0.3
/** Creep's torque must fall by this share of itself from its slow to its fast samples. Common practice, no source. */
const FALLS_SHARE = 0.1
const FALLS_CORRELATION = -0.5
/** Slow and fast must be apart by so much to tell a fall, km/h. */
const APART_KMH = 1
const LEAST_SAMPLES = 10
/** A sample belongs to the proved creep while it is no more than this above what creep gave at that speed. */
const CREEP_ROOM = 1.3
const CREEP_ROOM_NM = 2

/** Which samples of the torque's clock the log itself explains by creep or by holding the car. */
export interface CreepAndHold {
  /** 1 where the car does not move and the brake is not pressed. */
  readonly holds: Uint8Array
  /** 1 where torque is the creep that this drive proves; all 0 where it proves none. */
  readonly creeps: Uint8Array
  /** What proves creep, in words; null where nothing does. */
  readonly creepWhy: string | null
}

/**
 * Hold: no motion, no brake. Creep: the pedal released, no brake, under 15 km/h, and over the drive torque that falls
 * with speed (by a tenth at least from slow to fast).
 * Blind: a creep that never changes with speed; it stays unproved. Source: the contract's rule; figures common practice.
 */
export function creepAndHold(facts: Facts): CreepAndHold {
  const all = facts.once(releasedTorque)
  if ('why' in all) return { holds: new Uint8Array(0), creeps: new Uint8Array(0), creepWhy: null }
  const { data, counted, brake } = all
  const n = data.timeS.length
  const holds = new Uint8Array(n)
  const at: number[] = []
  for (let i = 0; i < n; i++) {
    if (!(counted[i]! > 0) || brake?.[i] === 1) continue
    if (stands(all, i)) holds[i] = 1
    if (data.kmh[i]! > ROLLS_KMH && data.kmh[i]! < CREEP_KMH) at.push(i)
  }
  if (brake) handOver(all, brake, holds, facts.limits.releasedTorqueNm.stop ?? 0)
  const creeps = new Uint8Array(n)
  const line = fallingLine(all, at)
  if (line)
    for (const i of at)
      if (data.driveNm[i]! <= CREEP_ROOM * line.at(data.kmh[i]!) + CREEP_ROOM_NM) creeps[i] = 1
  return { holds, creeps, creepWhy: line?.why ?? null }
}

/** A standing car's hold begins before the brake is quite let go: that overlap is hold as well. */
function handOver(all: ReleasedTorque, brake: Float64Array, holds: Uint8Array, barNm: number): void {
  const { timeS } = all.data
  for (let i = 1; i < timeS.length; i++) {
    if (holds[i] !== 1 || holds[i - 1] === 1 || brake[i - 1] !== 1) continue
    let first = i
    while (first > 0 && brake[first - 1] === 1 && all.counted[first - 1]! > barNm && stands(all, first - 1))
      first--
    if (timeS[i]! - timeS[first]! <= HANDOVER_S + 1e-9) holds.fill(1, first, i)
  }
}

/** Does the car stand at this sample? By road speed, else by the motor's; not known counts as moving. */
export function stands({ data }: ReleasedTorque, i: number): boolean {
  const kmh = data.kmh[i]!
  return Number.isFinite(kmh) ? kmh < STANDING_KMH : Math.abs(data.rpm[i]!) < STANDING_RPM
}

function fallingLine(
  { data }: ReleasedTorque,
  at: readonly number[],
): { readonly at: (kmh: number) => number; readonly why: string } | null {
  if (at.length < LEAST_SAMPLES) return null
  const kmh = picked(data.kmh, at)
  const nm = picked(data.driveNm, at)
  const slow = quantile(kmh, 0.1)
  const fast = quantile(kmh, 0.9)
  if (fast - slow < APART_KMH) return null
  const { r, slope } = correlation(kmh, nm)
  const centre = median(nm)
  const middle = median(kmh)
  const drop = -slope * (fast - slow)
  if (!(r < FALLS_CORRELATION && drop > FALLS_SHARE * centre)) return null
  return {
    at: (v) => Math.max(0, centre + slope * (v - middle)),
    why: `its torque fell with speed by ${drop.toFixed(1)} N\u00b7m from ${slow.toFixed(0)} to ${fast.toFixed(0)} km/h`,
  }
}
