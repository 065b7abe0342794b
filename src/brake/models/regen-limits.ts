import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'

export const LIMIT_CAUSES = [
  'nothing',
  'traction or anti-lock control',
  'charge current limit',
  'voltage ceiling',
  'temperature',
  'state of charge',
  'not logged',
  'constant power at speed',
] as const
/** Places in that list. */
export const SLIP = 1
export const CHARGE = 2
export const CEILING = 3
export const TEMPERATURE = 4
export const FULL_BATTERY = 5
export const UNKNOWN = 6
export const POWER = 7

/** What could hold regeneration back at each moment of the brake trace: 0 = nothing seen, else an index into the list. */
export interface LimitMarks {
  /** Certain: slip control at work, or the charge current at its limit. These leave the map's fit. */
  readonly cause: Uint8Array
  /** What to name where regeneration falls short of the map: the likeliest cause at each moment. */
  readonly suspect: Uint8Array
  /** A, ≥ 0; NaN where not logged. */
  readonly chargeLimitA: Float64Array
  /** V, %, °C of the hotter of inverter and motor, °C of the coldest cell; NaN where not logged. */
  readonly highestV: Float64Array
  /** V: the cells' most, of the vehicle file or usual. */
  readonly ceilingV: number
  readonly soc: Float64Array
  readonly hotC: Float64Array
  readonly coldC: Float64Array
}

/** At the limit: charge current within 6 % and 1 A of it. Common practice, no source. */
const NEAR = 0.94
const NEAR_A = 1
/** From here on inverters and motors usually give less, °C; full packs take less, %. Common practice, no source. */
const HOT_INVERTER_C = 80
const HOT_MOTOR_C = 130
const FULL_PERCENT = 95
const COLD_ABOVE_MIN_C = 5
/** A cell so near to its ceiling is at it: reading step and noise, V. Common practice, no source. */
const CEILING_V = 0.02

/**
 * What limits regeneration, by channels alone (`regenLimited` joins this with the map).
 * Reads: traction_active, abs_active, charge_limit, pack_current [A], cells [V], temperatures [°C], soc [%].
 * Gives null without a brake trace.
 */
export function regenLimits(facts: Facts): LimitMarks | null {
  const trace = facts.once(brakeTrace)
  if (!trace) return null
  const { timeS } = trace
  const { channels } = facts.drive
  const blank = new Float64Array(timeS.length).fill(Number.NaN)
  const held = (id: ChannelId): Float64Array => {
    const found = channels.get(id)
    return found ? heldAt(found, timeS, 10) : blank
  }
  const current = facts.once(packCurrent)
  const template = channels.get('pack_current')
  const charge =
    current && template
      ? linearAt({ ...template, timeS: current.timeS, values: current.amperes }, timeS, 2).map((a) => -a)
      : blank
  const chargeLimitA = held('charge_limit').map(Math.abs)
  const pack = facts.vehicle.pack ?? {}
  const cellMax = facts.once(cellLimits).maxV
  const highest = highestCell(channels, timeS) ?? blank
  const coldest = held('coldest_temperature')
  const coldLimitC = (pack.cell_temperature_min_charge ?? 0) + COLD_ABOVE_MIN_C
  const slip = (['traction_active', 'abs_active'] as const).map(held)
  const inverter = held('inverter_temperature')
  const motor = held('motor_temperature')
  const soc = held('soc')
  const cause = new Uint8Array(timeS.length)
  const suspect = new Uint8Array(timeS.length)
  for (let i = 0; i < timeS.length; i++) {
    const limit = chargeLimitA[i]!
    const atLimit = charge[i]! > 2 && charge[i]! >= NEAR * limit - NEAR_A
    const shut = limit < 2
    if (slip.some((active) => active[i] === 1)) cause[i] = SLIP
    else if (atLimit || shut) cause[i] = CHARGE
    suspect[i] = cause[i]!
    if (suspect[i]! > 0) continue
    if (highest[i]! > cellMax - CEILING_V) suspect[i] = CEILING
    else if (inverter[i]! > HOT_INVERTER_C || motor[i]! > HOT_MOTOR_C || coldest[i]! < coldLimitC)
      suspect[i] = TEMPERATURE
    else if (soc[i]! > FULL_PERCENT) suspect[i] = FULL_BATTERY
    else suspect[i] = UNKNOWN
  }
  const hotC = inverter.map((c, i) => (c > motor[i]! || !Number.isFinite(motor[i]!) ? c : motor[i]!))
  return { cause, suspect, chargeLimitA, highestV: highest, ceilingV: cellMax, soc, hotC, coldC: coldest }
}

/** Highest cell at each moment, from its own channel or from all cells on the first cell's clock; null without. */
function highestCell(channels: ReadonlyMap<string, Channel>, timeS: Float64Array): Float64Array | null {
  const own = channels.get('highest_cell_voltage')
  if (own) return heldAt(own, timeS, 10)
  const cells = [...channels.values()].filter((each) => each.id.startsWith('cell_voltage.'))
  const first = cells[0]
  if (!first || cells.some((cell) => cell.timeS.length !== first.timeS.length)) return null
  const highest = new Float64Array(first.timeS.length).fill(Number.NaN)
  for (const cell of cells)
    for (let i = 0; i < highest.length; i++)
      if (!(cell.values[i]! <= highest[i]!)) highest[i] = cell.values[i]!
  return heldAt({ ...first, values: highest }, timeS, 10)
}
