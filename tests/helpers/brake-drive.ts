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
  /** How lift-off and brake part join. */
  readonly form: 'sum' | 'larger' | 'replaces'
  /** null = as the brake part. */
  readonly liftFadeKmh: readonly [number, number] | null
  /** By so much the press must fall before the map follows it down, bar. */
  readonly backBar: number
  /** Fastest change of torque, N·m/s; null = none. */
  readonly slewNmS: number | null
  /** Constant power above the base speed, W at the motor; null = none. */
  readonly maxWatts: number | null
  /** Limits that nobody logs as such: highest cell (V; cells rest at 4.05 V with 30 mΩ here), or state of charge. */
  readonly cellMaxV: number | null
  readonly socLimit: { readonly from: number; readonly none: number } | null
  readonly startSoc: number
  /** Coasts with both pedals free before each press, long and short in turn, s. */
  readonly coastS: readonly [number, number]
  /** Pads that do not let go: so much deceleration in the five seconds after a release, m/s². */
  readonly clingsMs2: number
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
  form: 'sum',
  liftFadeKmh: null,
  backBar: 0,
  slewNmS: null,
  maxWatts: null,
  cellMaxV: null,
  socLimit: null,
  startSoc: 70,
  coastS: [2, 0.3],
  clingsMs2: 0,
}

type Phase = 'go' | 'hold' | 'lift' | 'brake' | 'stand'

const PER_NM = 0.025
const VOLTS = 350
const RAD_PER_KMH = 8
const CELL_V = 4.05
const CELL_OHM = 0.003
/** Ah of the test's battery: small, so that its state of charge moves within a drive. */
const CAPACITY_AH = 6

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
      ...(car.cellMaxV === null ? [] : ['highest_cell_voltage']),
      ...(car.socLimit === null ? [] : ['soc']),
    ].map((id) => [id, []]),
  )
  const timeS: number[] = []
  let v = 0
  let torque = 0
  let t = 0
  let tick = 0
  let soc = car.startSoc
  let played = 0
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
    rows.highest_cell_voltage?.push(CELL_V - (CELL_OHM * watts) / VOLTS)
    rows.soc?.push(soc)
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
      played = Math.min(seen + car.backBar, Math.max(seen, played))
      const share = clip((played - car.startBar) / (car.fullBar - car.startBar))
      const jump = car.step && played >= car.step.bar ? car.step.nm : 0
      const fades = ([low, high]: readonly [number, number]): number => clip((kmh - low) / (high - low))
      const press = Math.min(car.maxNm, share * car.maxNm + jump) * fades(car.fadeKmh)
      const lift = car.liftNm * fades(car.liftFadeKmh ?? car.fadeKmh)
      const regen =
        car.form === 'sum'
          ? press + lift
          : car.form === 'larger'
            ? Math.max(press, lift)
            : played > car.startBar
              ? press
              : lift
      const drive = phase === 'go' ? 90 : phase === 'hold' ? 12 : 0
      const full = car.socLimit
        ? clip((car.socLimit.none - soc) / (car.socLimit.none - car.socLimit.from))
        : 1
      const request = drive > 0 ? drive : -regen
      const most = Math.min(
        car.chargeA ?? Number.POSITIVE_INFINITY,
        car.cellMaxV === null ? Number.POSITIVE_INFINITY : (car.cellMaxV - CELL_V) / CELL_OHM,
      )
      let allowed = request < 0 ? request * full : request
      const omegaNow = kmh * RAD_PER_KMH
      if (kmh > 3) allowed = Math.max(allowed, -((most * VOLTS + 400) / 0.92 / omegaNow))
      if (car.maxWatts !== null && kmh > 3) allowed = Math.max(allowed, -car.maxWatts / omegaNow)
      const follow = (allowed - torque) * (car.lagS > 0 ? 1 - Math.exp(-dt / car.lagS) : 1)
      const slew = car.slewNmS === null || drive > 0 ? Number.POSITIVE_INFINITY : car.slewNmS * dt
      torque += Math.max(-slew, Math.min(slew, follow))
      soc -= ((torque * omegaNow) / VOLTS / 3600 / CAPACITY_AH) * 100 * dt
      v = Math.max(
        0,
        v +
          (PER_NM * torque -
            car.frictionMs2 * Math.max(0, bar - 1) -
            (v > 0 ? 0.12 + 5e-4 * v * v + (phase === 'go' && since < 5 ? car.clingsMs2 : 0) : 0)) *
            dt,
      )
      log(bar, request, pedal, silent)
      t += dt
      since += dt
      const next: Phase =
        phase === 'go' && v >= top
          ? 'hold'
          : phase === 'hold' && since > 5
            ? 'lift'
            : phase === 'lift' && since > car.coastS[stop % 2 ? 0 : 1]
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
