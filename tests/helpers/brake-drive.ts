import type { Drive } from '../../shared/drive.ts'
import { driveFromColumns } from './drive-from-text.ts'

/** A car of plain figures that stops again and again: what the brake tests read. Independent of the readers' models. */
export interface BrakeScript {
  readonly hz: number
  readonly stops: number
  readonly startBar: number
  readonly fullBar: number
  readonly maxNm: number
  readonly fadeKmh: readonly [number, number]
  /** Highest press of each stop, bar, in turn. */
  readonly peaksBar: readonly number[]
  /** N·m with both pedals free. */
  readonly liftNm: number
  /** First-order lag of the torque, s. */
  readonly lagS: number
  /** Extra N·m from this pressure on. */
  readonly step: { readonly bar: number; readonly nm: number } | null
  /** Charge current limit, A; null = not logged, no limit. */
  readonly chargeA: number | null
  readonly sensorZeroBar: number
  /** Pressure missing (reads its zero) in these stops. */
  readonly silentStops: readonly number[]
  /** Deceleration of friction, m/s² per bar. */
  readonly frictionMs2: number
}

export const PLAIN: BrakeScript = {
  hz: 50,
  stops: 14,
  startBar: 3,
  fullBar: 25,
  maxNm: 60,
  fadeKmh: [5, 12],
  peaksBar: [12, 30, 20, 33, 16],
  liftNm: 0,
  lagS: 0.05,
  step: null,
  chargeA: null,
  sensorZeroBar: 0.4,
  silentStops: [],
  frictionMs2: 0.08,
}

type Phase = 'go' | 'hold' | 'lift' | 'brake' | 'stand'

const PER_NM = 0.025
const VOLTS = 350
const RAD_PER_KMH = 8

export function brakeDrive(changes: Partial<BrakeScript> = {}): Drive {
  const car = { ...PLAIN, ...changes }
  const dt = 0.005
  const every = Math.round(1 / car.hz / dt)
  const rows: Record<string, number[]> = Object.fromEntries(
    [
      'brake_pressure',
      'brake_switch',
      'speed',
      'motor_speed',
      'torque',
      'torque_request',
      'pedal_position',
      'pack_current',
      'pack_voltage',
      ...(car.chargeA === null ? [] : ['charge_limit']),
    ].map((id) => [id, []]),
  )
  const timeS: number[] = []
  let v = 0
  let torque = 0
  let t = 0
  let tick = 0
  const log = (bar: number, request: number, pedal: number, silent: boolean): void => {
    if (tick++ % every !== 0) return
    const omega = v * 3.6 * RAD_PER_KMH
    const watts = torque * omega * (torque > 0 ? 1 / 0.92 : 0.92) + 400
    timeS.push(t)
    rows.brake_pressure!.push(car.sensorZeroBar + (silent ? 0 : bar))
    rows.brake_switch!.push(bar > 1.5 ? 1 : 0)
    rows.speed!.push(v * 3.6)
    rows.motor_speed!.push((omega * 60) / (2 * Math.PI))
    rows.torque!.push(torque)
    rows.torque_request!.push(request)
    rows.pedal_position!.push(pedal)
    rows.pack_current!.push(watts / VOLTS)
    rows.pack_voltage!.push(VOLTS)
    rows.charge_limit?.push(car.chargeA!)
  }
  const clip = (x: number): number => Math.min(1, Math.max(0, x))
  for (let stop = 0; stop < car.stops; stop++) {
    const top = 14 + 3 * (stop % 3)
    const peak = car.peaksBar[stop % car.peaksBar.length]!
    const silent = car.silentStops.includes(stop)
    let phase: Phase = 'go'
    let since = 0
    let bar = 0
    while (phase !== 'stand' || since < 2) {
      const kmh = v * 3.6
      const pedal = phase === 'go' ? 45 : phase === 'hold' ? 12 : 0
      if (phase === 'brake') {
        // up to the peak in a second, then slowly on by a tenth; eased off below 8 km/h
        const want = since < 1 ? peak * 0.9 * since : peak * Math.min(1, 0.9 + 0.05 * (since - 1))
        bar = kmh < 8 ? Math.max(3, bar - 12 * dt) : want
      } else if (phase === 'stand') bar = 5
      else bar = Math.max(0, bar - 60 * dt)
      const seen = silent ? 0 : bar
      const share = clip((seen - car.startBar) / (car.fullBar - car.startBar))
      const jump = car.step && seen >= car.step.bar ? car.step.nm : 0
      const fade = clip((kmh - car.fadeKmh[0]) / (car.fadeKmh[1] - car.fadeKmh[0]))
      const regen = (Math.min(car.maxNm, share * car.maxNm + jump) + car.liftNm) * fade
      const drive = phase === 'go' ? 90 : phase === 'hold' ? 12 : 0
      const request = drive > 0 ? drive : -regen
      let allowed = request
      if (car.chargeA !== null && kmh > 3)
        allowed = Math.max(allowed, -((car.chargeA * VOLTS + 400) / 0.92 / (kmh * RAD_PER_KMH)))
      torque += (allowed - torque) * (car.lagS > 0 ? 1 - Math.exp(-dt / car.lagS) : 1)
      v = Math.max(
        0,
        v +
          (PER_NM * torque - car.frictionMs2 * Math.max(0, bar - 1) - (v > 0 ? 0.12 + 5e-4 * v * v : 0)) * dt,
      )
      log(bar, request, pedal, silent)
      t += dt
      since += dt
      const next: Phase =
        phase === 'go' && v >= top
          ? 'hold'
          : phase === 'hold' && since > 5
            ? 'lift'
            : phase === 'lift' && since > (stop % 2 ? 2 : 0.3)
              ? 'brake'
              : phase === 'brake' && v <= 0.05
                ? 'stand'
                : phase
      if (next !== phase) since = 0
      phase = next
    }
  }
  return driveFromColumns(timeS, rows)
}

/** The drive without some of its channels, or with channels changed value by value. */
export function without(
  drive: Drive,
  ids: readonly string[],
  change: Readonly<Record<string, (value: number) => number>> = {},
): Drive {
  const channels = new Map(drive.channels)
  for (const id of ids) channels.delete(id)
  for (const [id, of] of Object.entries(change)) {
    const channel = channels.get(id)
    if (channel) channels.set(id, { ...channel, values: channel.values.map(of) })
  }
  return { ...drive, channels }
}
