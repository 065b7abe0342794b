import type { ChannelId } from '../../../shared/channels.ts'
import { motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { type HeldRun, runsAbove } from '../../math/held-runs.ts'
import { heldAt, samplePeriod, staleAfter } from '../../samples/on-one-clock.ts'
import { brakeAppliedAt, type PedalAndTorque, pedalAndTorque } from './pedal-release.ts'
import { type PedalReleased, pedalReleased } from './pedal-released.ts'

/** What the torque did while the accelerator read released; every array on the torque's own clock. */
export interface ReleasedTorque {
  readonly data: PedalAndTorque
  readonly pedal: PedalReleased
  /** 1 between two pedal samples that both read released, 0 not, NaN not known. */
  readonly released: Float64Array
  /** Driving torque, N·m, where it counts against the released pedal; 0 where it does not. */
  readonly counted: Float64Array
  /** 1 while the brake is applied; null where no channel of the driver's brake is logged. */
  readonly brake: Float64Array | null
  readonly cruiseOn: Float64Array | null
  readonly holdOn: Float64Array | null
  /** Over the limit for long enough, on enough pedal samples that read released. */
  readonly runs: readonly HeldRun[]
  /** Over the limit on too few pedal samples to tell. */
  readonly untimed: number
  /** Time with the accelerator released and torque logged, s. */
  readonly releasedS: number
  /** Slower of pedal and torque, s. */
  readonly sampleS: number
  readonly errorPercent: number
}

/** Idle-return time, s: US FMVSS 124 (49 CFR 571.124) S5.3, from memory. */
export const IDLE_RETURN_S = 1
/** The foot is off, the inverter has not heard of it yet, s. Common practice, no source. */
const UNHEARD_S = 0.15
/** Pedal samples that must have read released: the contract's three; in slow logs more, since a foot is quicker. */
const LEAST_SAMPLES = 3
const SLOW_S = 0.5
const LEAST_SAMPLES_SLOW = 5

/** Gives a sentence where pedal or torque cannot be read, or torque has no sign. */
export function releasedTorque(facts: Facts): ReleasedTorque | { readonly why: string } {
  const data = facts.once(pedalAndTorque)
  if (!data) return { why: 'accelerator or torque cannot be read' }
  if (!data.signedTorque)
    return { why: 'torque is logged without sign, so drive and regeneration look alike' }
  const pedal = facts.once(pedalReleased)
  if ('why' in pedal) return pedal
  const { timeS } = data
  const released = betweenReleased(pedal, timeS)
  const brake = brakeAppliedAt(facts, timeS)
  const counted = countedTorque(data, released, brake)
  const bar = facts.limits.releasedTorqueNm.stop ?? Number.NaN
  const seconds = facts.limits.releasedTorqueS.stop ?? Number.NaN
  const runs: HeldRun[] = []
  let untimed = 0
  const least = pedal.periodS > SLOW_S ? LEAST_SAMPLES_SLOW : LEAST_SAMPLES
  for (const run of runsAbove(timeS, counted, bar)) {
    const from = timeS[run.first]!
    const to = timeS[run.last]!
    const seen =
      pedal.staleS === Number.POSITIVE_INFINITY ? run.last - run.first + 1 : samples(pedal, from, to)
    if (to - from > seconds + 1e-9 && seen >= least) runs.push(run)
    else if (run.atMostS > seconds + pedal.periodS && pedal.periodS > seconds / 2) untimed++
  }
  let releasedS = 0
  for (let i = 1; i < timeS.length; i++)
    if (released[i] === 1) releasedS += Math.min(timeS[i]! - timeS[i - 1]!, 1)
  const held = (id: ChannelId): Float64Array | null => {
    const channel = facts.drive.channels.get(id)
    return channel && channel.polarity !== null ? heldAt(channel, timeS, staleAfter(channel)) : null
  }
  return {
    data,
    pedal,
    released,
    counted,
    brake,
    cruiseOn: held('cruise_active'),
    holdOn: held('hold_active'),
    runs,
    untimed,
    releasedS,
    sampleS: Math.max(pedal.periodS, samplePeriod(timeS)),
    errorPercent: facts.once(motorTorque)?.errorPercent ?? 8,
  }
}

function samples({ timeS }: PedalReleased, from: number, to: number): number {
  let count = 0
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle]! < from - 1e-9) low = middle + 1
    else high = middle
  }
  for (; low < timeS.length && timeS[low]! <= to + 1e-9; low++) count++
  return count
}

/** Released at a moment: the pedal samples before and after it both read released (written on change: the one before). */
function betweenReleased(pedal: PedalReleased, atS: Float64Array): Float64Array {
  const out = new Float64Array(atS.length).fill(Number.NaN)
  const { timeS, released } = pedal
  const onChange = pedal.staleS === Number.POSITIVE_INFINITY
  let at = -1
  for (let i = 0; i < atS.length; i++) {
    while (at + 1 < timeS.length && timeS[at + 1]! <= atS[i]!) at++
    if (at < 0) continue
    const before = released[at]!
    const exact = atS[i]! - timeS[at]! < 1e-9
    if (exact || (onChange && !Number.isNaN(before))) out[i] = before
    else if (at + 1 < timeS.length && timeS[at + 1]! - timeS[at]! <= pedal.staleS) {
      const after = released[at + 1]!
      out[i] = before === 0 || after === 0 ? 0 : before * after
    }
  }
  return out
}

/**
 * Driving torque while released, less what an inverter still lets go: torque that falls within the idle-return time of
 * the release or of the brake's press (cruise control hands over there) does not count.
 */
function countedTorque(
  { timeS, driveNm }: PedalAndTorque,
  released: Float64Array,
  brake: Float64Array | null,
): Float64Array {
  const counted = new Float64Array(timeS.length)
  let since = Number.NaN
  let lowest = Number.POSITIVE_INFINITY
  let back = 0
  for (let i = 0; i < timeS.length; i++) {
    if (released[i] !== 1) {
      since = Number.NaN
      counted[i] = Number.isNaN(released[i]!) ? Number.NaN : 0
      continue
    }
    if (Number.isNaN(since) || (brake && i > 0 && brake[i] === 1 && brake[i - 1] === 0)) {
      since = timeS[i]!
      lowest = Number.POSITIVE_INFINITY
    }
    while (back < i && timeS[back]! <= timeS[i]! - 0.15) back++
    const nm = driveNm[i]!
    const earlier = driveNm[Math.max(0, back - 1)]!
    const falling = nm < earlier - 0.05 * Math.abs(earlier)
    lowest = Math.min(lowest, nm)
    const age = timeS[i]! - since
    const lettingGo = age < IDLE_RETURN_S && (falling || age < UNHEARD_S) && nm <= lowest + 2
    counted[i] = lettingGo ? 0 : Math.max(0, nm)
  }
  return counted
}
