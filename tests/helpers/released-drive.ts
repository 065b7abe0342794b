import type { Drive } from '../../shared/drive.ts'
import { driveFromColumns } from './drive-from-text.ts'

/** What acts on the car at a moment. */
export interface Moment {
  readonly s: number
  readonly kmh: number
  /** Torque a moment ago, N·m. */
  readonly nm: number
}

export interface Script {
  readonly seconds?: number
  readonly hz?: number
  /** Percent of travel. */
  readonly pedal: (s: number) => number
  /** N·m at the motor. */
  readonly torque: (at: Moment) => number
  readonly request?: (at: Moment) => number
  /** Rise of the road, percent. */
  readonly slope?: (s: number) => number
  /** bar; undefined: no brake channel in the log. */
  readonly brake?: (s: number) => number
  readonly startKmh?: number
  /** More columns, from the moment. */
  readonly more?: Readonly<Record<string, (at: Moment) => number>>
  /** Columns that the log lacks. */
  readonly without?: readonly string[]
  readonly noiseNm?: number
}

/** An invented car, workshop Teasel: kg, m, ratio, kg/m (½ρ·cdA), N of rolling. */
export const CAR = { massKg: 1100, radiusM: 0.29, ratio: 8.2, air: 0.39, rollN: 110 }

/**
 * A drive by Newton's law at 10 ms, logged at `hz`: m·a = T·ratio/r − air·v² − roll − m·g·slope − brakes. Brakes take
 * 0.25 m/s² a bar. The log's torque carries a little noise from a fixed row of numbers: same script, same drive.
 */
export function releasedDrive(script: Script): Drive {
  const { seconds = 120, hz = 20, noiseNm = 0.3 } = script
  const dt = 0.01
  let v = (script.startKmh ?? 0) / 3.6
  let nm = 0
  let state = 7
  const noise = (): number => {
    state = (state * 16807) % 2147483647
    return (state / 2147483647 - 0.5) * 2
  }
  const timeS: number[] = []
  const columns: Record<string, number[]> = {}
  const write = (id: string, value: number): void => {
    const column = columns[id]
    if (column) column.push(value)
    else columns[id] = [value]
  }
  for (let k = 0; k < seconds / dt; k++) {
    const s = k * dt
    const at: Moment = { s, kmh: v * 3.6, nm }
    nm = script.torque(at)
    const bar = script.brake?.(s) ?? 0
    const push =
      (nm * CAR.ratio) / CAR.radiusM -
      CAR.massKg * 9.81 * ((script.slope?.(s) ?? 0) / 100) -
      CAR.air * v * Math.abs(v)
    const rub = CAR.rollN + bar * 0.25 * CAR.massKg
    // friction holds a standing car, else it only slows it
    v =
      v <= 0.02 && Math.abs(push) <= rub
        ? 0
        : Math.max(v + ((push - Math.sign(v || push) * rub) / CAR.massKg) * dt, -3)
    if (k % Math.round(1 / dt / hz) !== 0) continue
    timeS.push(s)
    write('pedal_position', script.pedal(s))
    write('torque', nm + noiseNm * noise())
    write('speed', Math.abs(v) * 3.6)
    write('motor_speed', (v / CAR.radiusM) * CAR.ratio * (60 / (2 * Math.PI)))
    if (script.request) write('torque_request', script.request(at))
    if (script.brake) write('brake_pressure', bar)
    for (const [id, of] of Object.entries(script.more ?? {})) write(id, of({ s, kmh: v * 3.6, nm }))
  }
  for (const id of script.without ?? []) delete columns[id]
  const drive = driveFromColumns(timeS, columns)
  const channels = new Map(drive.channels)
  for (const id of ['cruise_active', 'hold_active'])
    if (channels.has(id)) channels.set(id, { ...channels.get(id)!, polarity: 'as-named' })
  return { ...drive, channels }
}

/** A speed controller: proportional and integral, its torque kept within ± 80 N·m; `set` may change over time. */
export function cruise(set: (s: number) => number, kp = 6, ki = 0.8): (at: Moment) => number {
  let sum = 0
  let last = Number.NaN
  return ({ s, kmh }) => {
    const error = set(s) - kmh
    const dt = Number.isNaN(last) ? 0 : s - last
    last = s
    const wanted = kp * error + sum
    if (Math.abs(wanted) < 80) sum += ki * error * dt
    return Math.max(-80, Math.min(80, wanted))
  }
}
