import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import { STANDING_KMH, UNDER_WAY_KMH } from '../drive/motion.ts'
import type { Facts } from '../facts/facts.ts'
import { FEWEST_READINGS } from '../math/fewest.ts'
import { slidingLine } from '../math/sliding-line.ts'
import { insideEach } from '../math/spans.ts'
import { median, quantile, robustSpread } from '../math/stats.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { heldAt, linearAt, samplePeriod } from '../samples/on-one-clock.ts'
import { contactorState } from './contactor-state.ts'
import { gearing } from './gearing.ts'
import { accelerator, acceleratorAt } from './pedal-travel.ts'
import { drivenSpeed, motorTorque, requestedTorque } from './regen-torque.ts'
import { unseenGearChanges } from './unseen-gear-changes.ts'

/** Fewer readings show no spread; no source. */
const FEWEST_FOR_SPREAD = 5
/** A press is over once its reading has been low so long; no source. */
const BREAK_S = 0.3

/** What the driver's foot does to the brake, as the log shows it. */
export type BrakeInput = 'pressure' | 'travel' | 'switch' | 'none'

/** Everything that braking needs, on one clock: that of the brake signal. NaN where not known. */
export interface BrakeTrace {
  readonly input: BrakeInput
  readonly timeS: Float64Array
  readonly periodS: number
  /** bar (pressure), % (travel) or 0/1 (switch), zero removed. */
  readonly press: Float64Array
  /** What the sensor read with the brake free, and the spread there. */
  readonly zero: number
  readonly noise: number
  /** The press counts as begun above this. */
  readonly begunAt: number
  readonly kmh: Float64Array
  /** N·m, drive positive. */
  readonly torqueNm: Float64Array
  readonly requestNm: Float64Array | null
  /** Accelerator at rest for at least `RELEASED_S`, the drive ready and no gear being changed: 1 or 0. */
  readonly released: Uint8Array
  /** Ascending; each from the press to its release or to standstill, while the drive could answer. */
  readonly applications: readonly Span[]
  /** Are brake signal and torque read in the same rows? Matters in slow logs only. */
  readonly sameRows: boolean
  readonly channels: readonly string[]
}

/** What remains of drive torque after the accelerator's release must have gone before the brake's share is read. */
const RELEASED_S = 0.3
const SHORTEST_S = 0.3
/** Drive torque below this may be noise, N·m. Common practice, no source. */
const DRIVES_NM = 3
/** A noisier sensor than this is smoothed by straight lines over ± 50 ms, which delays nothing. */
const NOISY_BAR = 0.1
const PRESS_HALF_S = 0.05
/** Half the window in which the speed is a straight line: takes its noise out, leaves a steady deceleration alone. */
const SPEED_HALF_S = 0.15
/** Torque is gone for so long before slow contactor channels show the loss, s. */
const LOSS_S = 1
/** Points of travel over its rest at which the accelerator is surely pressed; no source. */
const PRESSED_OVER_IDLE = 3

/**
 * Brings brake input, speed, torque and accelerator on the brake signal's own samples. Input: pressure (the vehicle
 * file's circuit, else the one logged), else travel, else the switch.
 * The sensor's zero is its median while the accelerator is pressed (without a pedal: under drive torque) and the car
 * moves (nobody brakes then), else the lowest tenth of its readings. Gives null without speed or torque.
 */
export function brakeTrace(facts: Facts): BrakeTrace | null {
  const speed = facts.once(drivenSpeed)
  const torque = facts.once(motorTorque)
  if (!speed || !torque) return null
  const [input, signal] = brakeSignal(facts)
  const clock = signal
    ? freshSamples(signal)
    : { timeS: torque.timeS, values: new Float64Array(torque.timeS.length) }
  const { timeS } = clock
  const pedal = facts.once(accelerator)
  const percent = pedal ? acceleratorAt(pedal, timeS) : null
  const smooth = slidingLine(speed.timeS, speed.values, SPEED_HALF_S).level
  const steady = speed.values.map((value, i) => (Number.isFinite(smooth[i]) ? smooth[i]! : value))
  const kmh = linearAt({ ...speed, values: steady }, timeS, 2)
  const idle = pedal ? pedal.restPercent + Math.max(0.8, 5 * pedal.noisePercent) : 0
  const linear = (of: { timeS: Float64Array; nm: Float64Array }): Float64Array =>
    linearAt({ ...speed, timeS: of.timeS, values: of.nm }, timeS, 2)
  const torqueNm = linear(torque)
  // a car under drive torque has its accelerator pressed: that stands in for a pedal that is not logged
  const idleNm = percent ? 0 : Math.max(DRIVES_NM, 0.04 * quantile(torque.nm.filter(Number.isFinite), 0.995))
  const pushes = percent ? percent.map((each) => each - idle) : torqueNm.map((nm) => nm - idleNm)
  const { zero, noise } = zeroOf(
    input,
    clock.values,
    (i) => pushes[i]! > (percent ? PRESSED_OVER_IDLE : 0) && kmh[i]! > UNDER_WAY_KMH,
  )
  const noisy = noise > NOISY_BAR && input !== 'switch'
  const read = noisy ? slidingLine(timeS, clock.values, PRESS_HALF_S).level : clock.values
  const press = read.map((value, i) => (Number.isFinite(value) ? value : clock.values[i]!) - zero)
  const begunAt =
    input === 'switch' ? 0.5 : input === 'travel' ? Math.max(2, 5 * noise) : Math.max(0.4, 5 * noise)
  const request = facts.once(requestedTorque)
  const awake = awakeAt(facts, timeS)
  const changes = facts.drive.channels.has('motor_speed')
    ? (facts.once(gearing)?.changes ?? [])
    : unseenGearChanges(timeS, torqueNm, press, begunAt)
  const apart = facts
    .once(contactorState)
    .of('open')
    .map(([from, to]): Span => [from - LOSS_S, to])
  const changing = insideEach(changes, timeS)
  const open = insideEach(apart, timeS)
  return {
    input,
    timeS,
    periodS: samplePeriod(timeS),
    press,
    zero,
    noise,
    begunAt,
    kmh,
    torqueNm,
    requestNm: request && torque.from === 'torque' ? linear(request) : null,
    // without a pedal only a pressed brake says that the foot is off the accelerator
    released: releasedFor(timeS, pushes, RELEASED_S).map((rest, i) =>
      awake[i] === 0 || (percent === null && !(press[i]! > begunAt)) || changing[i] === 1 ? 0 : rest,
    ),
    // a drive that cannot answer (contactors open, key off) regenerates nothing: that braking is no application
    applications: applicationsIn(
      timeS,
      press,
      begunAt,
      kmh.map((speed, i) => (awake[i] === 0 || open[i] === 1 ? 0 : speed)),
    ),
    sameRows: sameRows(timeS, (request ?? torque).timeS),
    channels: [...(signal ? [signal.id] : []), speed.id, ...torque.channels],
  }
}

function sameRows(a: Float64Array, b: Float64Array): boolean {
  let same = 0
  let looked = 0
  let at = 0
  for (let i = 0; i < a.length; i += Math.max(1, Math.floor(a.length / 200))) {
    while (at + 1 < b.length && b[at]! < a[i]! - 1e-6) at++
    looked++
    if (Math.abs((b[at] ?? Number.NaN) - a[i]!) < 1e-3) same++
  }
  return looked > 0 && same > 0.9 * looked
}

function brakeSignal(facts: Facts): [BrakeInput, Channel | null] {
  const { channels } = facts.drive
  const circuit = facts.vehicle.brake?.sensor_circuit?.toLowerCase() ?? ''
  const named = /front/.test(circuit)
    ? channels.get('brake_pressure_front')
    : /rear/.test(circuit)
      ? channels.get('brake_pressure_rear')
      : undefined
  const pressure =
    named ??
    channels.get('brake_pressure') ??
    channels.get('brake_pressure_front') ??
    channels.get('brake_pressure_rear')
  if (pressure && pressure.values.length >= FEWEST_READINGS) return ['pressure', pressure]
  const travel = channels.get('brake_travel')
  if (travel && travel.values.length >= FEWEST_READINGS) return ['travel', travel]
  const contact = channels.get('brake_switch')
  if (contact && contact.polarity !== null && contact.values.length >= FEWEST_READINGS)
    return ['switch', contact]
  return ['none', null]
}

/** The level with the accelerator pressed, unless the brake often reads far lower (both pedals pressed together). */
function freeLevel(accelerating: number, all: Float64Array): number {
  const low = quantile(all, 0.25)
  return low < accelerating - 1 ? low : accelerating
}

/** What the sensor reads while nobody brakes, and how much that reading wanders. */
function zeroOf(
  input: BrakeTrace['input'],
  values: Float64Array,
  nobodyBrakes: (i: number) => boolean,
): { zero: number; noise: number } {
  if (input === 'switch') return { zero: 0, noise: 0 }
  const zeroAt = values.filter((_, i) => nobodyBrakes(i))
  const enough = zeroAt.length >= FEWEST_READINGS
  const zero = input === 'none' ? 0 : enough ? freeLevel(median(zeroAt), values) : quantile(values, 0.1)
  if (!enough) return { zero, noise: 0 }
  const free = zeroAt.filter((value) => value < zero + 1.5 || input === 'travel')
  return { zero, noise: spreadAbove(free, zero) }
}

/** Robust spread, or for a sensor that stops at zero (half of its noise cut off) from the upper side alone. */
function spreadAbove(values: Float64Array, centre: number): number {
  return values.length < FEWEST_FOR_SPREAD
    ? 0
    : Math.max(robustSpread(values), (quantile(values, 0.95) - centre) / 1.645)
}

/** 0 where the drive cannot answer (not ready, or key off), 1 where it can, NaN where the log does not tell. */
function awakeAt(facts: Facts, timeS: Float64Array): Float64Array {
  for (const id of ['drive_ready', 'key_on'] as const) {
    const found = facts.drive.channels.get(id)
    if (found && found.polarity !== null && found.values.includes(1)) return heldAt(found, timeS)
  }
  return new Float64Array(timeS.length).fill(Number.NaN)
}

function releasedFor(timeS: Float64Array, pushes: Float64Array, holdS: number): Uint8Array {
  const released = new Uint8Array(timeS.length)
  let since = Number.NEGATIVE_INFINITY
  for (let i = 0; i < timeS.length; i++) {
    if (!(pushes[i]! <= 0)) since = Number.POSITIVE_INFINITY
    else if (since === Number.POSITIVE_INFINITY) since = timeS[i]!
    released[i] = timeS[i]! - since >= holdS ? 1 : 0
  }
  return released
}

/** From the press to its release (under half of `begunAt`) or to standstill; gaps under 0.3 s do not end one. */
function applicationsIn(
  timeS: Float64Array,
  press: Float64Array,
  begunAt: number,
  kmh: Float64Array,
): Span[] {
  const found: Span[] = []
  let from = -1
  let lastOn = -1
  const close = (): void => {
    if (from >= 0 && timeS[lastOn]! - timeS[from]! >= SHORTEST_S) found.push([timeS[from]!, timeS[lastOn]!])
    from = -1
  }
  for (let i = 0; i < timeS.length; i++) {
    const moving = kmh[i]! > STANDING_KMH
    if (press[i]! > begunAt && moving) {
      if (from < 0) from = i
      lastOn = i
    } else if (from >= 0) {
      if (press[i]! > begunAt / 2 && moving) lastOn = i
      else if (!moving || timeS[i]! - timeS[lastOn]! > BREAK_S) close()
    }
  }
  close()
  return found
}

/** The switch as 0/1 at each moment; null where it is not logged or nothing fixes its polarity. */
export function brakeSwitchAt(facts: Facts, atS: ArrayLike<number>): Float64Array | null {
  const contact = facts.drive.channels.get('brake_switch')
  return contact && contact.polarity !== null ? heldAt(contact, atS, 2) : null
}
