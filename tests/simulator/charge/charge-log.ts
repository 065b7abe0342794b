import { catalogueEntry } from '../../../shared/channels.ts'
import type { Drive } from '../../../shared/drive.ts'
import type { RawLog } from '../../../shared/raw-log.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import { buildDrive } from '../../../src/drive/build-drive.ts'
import type { Random } from '../random.ts'
import type { World } from './charge-world.ts'

/** How a channel family is read: noise (standard deviation) and step, in its own unit. */
export const READ: Readonly<Record<string, readonly [noise: number, step: number]>> = {
  cell_voltage: [0.0006, 0.001],
  pack_voltage: [0.05, 0.1],
  link_voltage: [0.3, 0.5],
  pack_current: [0.2, 0.1],
  charger_current: [0.05, 0.1],
  charger_voltage: [0.2, 0.1],
  charger_temperature: [0.05, 0.5],
  module_temperature: [0.05, 0.5],
  mains_voltage: [0.4, 0.1],
  mains_current: [0.03, 0.1],
  charge_current_request: [0, 0.1],
  charge_voltage_request: [0, 0.1],
  pilot_duty: [0.1, 0.1],
  pilot_voltage: [0.05, 0.05],
  proximity_resistance: [2, 1],
  isolation_resistance: [12, 1],
  soc: [0, 0.1],
}

export interface LogStyle {
  /** Seconds between rows. */
  readonly everyS: number
  readonly without: readonly string[]
  /** Gains of pack and charger current. */
  readonly packGain: number
  readonly chargerGain: number
  readonly packOffsetA: number
}

/** The charge as a log of rows, through the program's own import of a drive. */
export function chargeDrive(world: World, vehicle: Vehicle, style: LogStyle, random: Random): Drive {
  return buildDrive([chargeLog(world, style, random)], { vehicle })
}

export function chargeLog(world: World, style: LogStyle, random: Random): RawLog {
  const all = [...world.values()][0]!.length
  const rows = Math.floor((all - 1) / style.everyS) + 1
  const timeS = Float64Array.from({ length: rows }, (_, i) => i * style.everyS)
  const series = [...world]
    .filter(([id]) => !style.without.includes(id))
    .map(([id, values]) => {
      const family = id.replace(/\.\d+$/, '')
      const [noise, step] = READ[family] ?? [0, 0]
      const own = random.fork(id)
      const gain = id === 'pack_current' ? style.packGain : id === 'charger_current' ? style.chargerGain : 0
      const offset = id === 'pack_current' ? style.packOffsetA : 0
      return {
        name: id,
        unit: catalogueEntry(id)?.unit ?? null,
        channel: id,
        timeS,
        values: Float64Array.from(timeS, (t) => {
          const truth = values[Math.round(t)]!
          const quiet = truth === 0 && !['pack_current', 'mains_current', 'pilot_voltage'].includes(family)
          const read = truth * (1 + gain) + offset + (quiet ? 0 : noise * own.normal())
          const kept = family === 'pilot_duty' ? Math.min(100, Math.max(0, read)) : read
          return step > 0 ? Math.round(kept / step) * step : kept
        }),
        fresh: null,
        labels: null,
        node: null,
      }
    })
  return {
    name: 'charge',
    sha256: '0'.repeat(64),
    layout: 'simulated',
    rows,
    skipped: [],
    series,
    startedAt: null,
    fingerprint: 'simulated',
    bus: null,
    events: [],
    clockSteps: [],
  }
}
