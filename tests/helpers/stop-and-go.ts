import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { conditionDrive } from '../../src/drive/condition.ts'
import type { Facts } from '../../src/facts/facts.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from './drive-from-text.ts'

/**
 * A small car on a level road, from closed formulas, with its true energy: key on at 10 s, contactors at 12 s, ready
 * at 13 s, stops and goes until key-off 30 s before the end.
 *
 *     P = F·v + 300 W standing; braking power comes back at 80 %; I from P = (E − R·I)·I; V = E − R·I
 */
export interface SmallDrive {
  readonly timeS: Float64Array
  readonly columns: Record<string, Float64Array>
  readonly trueAmperes: Float64Array
  readonly outWh: number
  readonly inWh: number
  readonly km: number
}

export interface SmallOptions {
  readonly seconds?: number
  readonly rateHz?: number
  readonly cells?: number
  readonly noiseA?: number
  readonly stepA?: number
  readonly seed?: number
  /** No braking power comes back. */
  readonly noRegen?: boolean
}

/** Repeatable noise of spread 1: sum of twelve uniform numbers less six (central limit). */
export function noise(seed: number): () => number {
  let state = seed >>> 0
  const uniform = (): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  return () => {
    let sum = -6
    for (let i = 0; i < 12; i++) sum += uniform()
    return sum
  }
}

const MASS = 1100
const RADIUS = 0.28
const RATIO = 8.2

export function smallDrive(options: SmallOptions = {}): SmallDrive {
  const {
    seconds = 240,
    rateHz = 20,
    cells = 84,
    noiseA = 0.2,
    stepA = 0.1,
    seed = 1,
    noRegen = false,
  } = options
  const n = seconds * rateHz
  const dt = 1 / rateHz
  const gauss = noise(seed)
  const timeS = Float64Array.from({ length: n }, (_, i) => Math.round(i * dt * 1e6) / 1e6)
  const of = (rule: (t: number, i: number) => number): Float64Array => timeS.map(rule)
  const offS = seconds - 30
  const kmh = of((t) => speedAt(t, offS))
  const rise = (i: number): number =>
    (kmh[Math.min(n - 1, i + 1)]! - kmh[Math.max(0, i - 1)]!) / 3.6 / (2 * dt)
  const volts0 = 336
  const packOhm = 0.09
  const closed = (t: number): number => (t >= 12 && t < offS ? 1 : 0)
  const amperes = new Float64Array(n)
  const torque = new Float64Array(n)
  let outWh = 0
  let inWh = 0
  let km = 0
  for (let i = 0; i < n; i++) {
    const v = kmh[i]! / 3.6
    const force = v > 0.1 ? MASS * rise(i) + 130 + 0.4 * v * v : 0
    torque[i] = (force * RADIUS) / RATIO
    if (noRegen && torque[i]! < 0) torque[i] = 0
    const mechanical = (torque[i]! * v * RATIO) / RADIUS
    const watts = mechanical > 0 ? mechanical / 0.88 : 0.8 * mechanical
    const total = closed(timeS[i]!) ? watts + 300 : 0
    amperes[i] = (volts0 - Math.sqrt(volts0 ** 2 - 4 * packOhm * total)) / (2 * packOhm)
    const power = (volts0 - packOhm * amperes[i]!) * amperes[i]!
    if (power > 0) outWh += (power * dt) / 3600
    else inWh -= (power * dt) / 3600
    km += (kmh[i]! * dt) / 3600
  }
  const packV = amperes.map((a) => volts0 - packOhm * a)
  const rounded = (values: Float64Array, step: number): Float64Array =>
    values.map((value) => Math.round(value / step) * step)
  const columns: Record<string, Float64Array> = {
    key_on: of((t) => (t >= 10 && t < offS ? 1 : 0)),
    drive_ready: of((t) => (t >= 13 && t < offS ? 1 : 0)),
    charge_plug: of(() => 0),
    interlock_closed: of(() => 1),
    inertia_closed: of(() => 1),
    contactor_positive: of(closed),
    contactor_negative: of((t) => (t >= 11 && t < offS ? 1 : 0)),
    contactor_precharge: of((t) => (t >= 11 && t < 12.2 ? 1 : 0)),
    selector: of((t) => (t >= 14 && t < offS - 2 ? 1 : 0)),
    pack_current: rounded(
      amperes.map((a) => a + noiseA * gauss()),
      stepA,
    ),
    pack_voltage: rounded(
      packV.map((v) => v + 0.05 * gauss()),
      0.1,
    ),
    link_voltage: of((t, i) => (t < 11 ? 0 : t < 12 ? 330 * (t - 11) : t < offS ? packV[i]! : 200)),
    speed: rounded(kmh, 0.01),
    motor_speed: kmh.map((speed) => Math.round(((speed / 3.6 / RADIUS) * RATIO * 60) / (2 * Math.PI))),
    torque: rounded(torque, 0.1),
    brake_pressure: of((_, i) => (rise(i) < -1 ? 12 : rise(i) < -0.2 ? 1.5 : 0.2)),
    brake_switch: of((_, i) => (rise(i) < -0.5 ? 1 : 0)),
    lv_voltage: of((t) => (t >= 13 && t < offS ? 13.9 : 12.5)),
    soc: of(() => 80),
  }
  for (let cell = 1; cell <= cells; cell++)
    columns[`cell_voltage.${cell}`] = rounded(
      packV.map((v) => v / cells + 0.001 * gauss()),
      0.001,
    )
  return { timeS, columns, trueAmperes: amperes, outWh, inWh, km }
}

const LAP_S = 39.731

/** Stop and go: laps of about 40 s (no whole seconds, so that no sampling rate falls in step) of 5 s rest, pulling away to a top speed that differs, cruising, braking to rest. */
function speedAt(t: number, offS: number): number {
  if (t > offS - 10) return 0
  const lap = Math.floor((t - 20.317) / LAP_S)
  const inLap = (t - 20.317) % LAP_S
  if (t < 20.317 || 20.317 + LAP_S * (lap + 1) > offS - 10) return 0
  const top = [45, 70, 30, 60, 50][lap % 5]!
  if (inLap < 5) return 0
  if (inLap < 15) return (top * (inLap - 5)) / 10
  if (inLap < 28) return top + 3 * Math.sin(inLap - 15)
  if (inLap < 36) return (top * (36 - inLap)) / 8
  return 0
}

export const SMALL_VEHICLE: Vehicle = {
  pack: { capacity_ah: 60, chemistry: 'nmc' },
  car: { mass_kg: MASS, wheel_radius_m: RADIUS, gear_ratio: RATIO },
}

/** The columns as a conditioned drive, and what analyses may know of it. */
export function conditioned(
  small: Pick<SmallDrive, 'timeS' | 'columns'>,
  vehicle: Vehicle = SMALL_VEHICLE,
  names: Readonly<Record<string, string>> = {},
): { drive: Drive; facts: Facts } {
  const raw = driveFromColumns(small.timeS, small.columns)
  const channels = new Map(
    [...raw.channels].map(([id, each]) => [
      id,
      { ...each, from: names[id] ?? each.from, step: id === 'pack_current' ? 0.1 : 0 },
    ]),
  )
  const drive = conditionDrive({ ...raw, channels }, vehicle)
  return { drive, facts: gatherFacts(drive, vehicle) }
}
