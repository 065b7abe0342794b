import type { Drive } from '../../shared/drive.ts'
import { driveFromColumns } from './drive-from-text.ts'

/**
 * A start drawn sample by sample, 400 V pack, by the textbook RC law:
 *
 *     t 1.0 key   1.3 negative   1.4 precharge   link rises   closing: positive   +0.4 drive ready   8 end of drive
 *
 * Everything can be moved or broken by the options; times in seconds, voltages in V.
 */
export interface DrawnStart {
  readonly periodS?: number
  readonly endS?: number
  readonly packV?: number
  readonly ohm?: number
  readonly farad?: number
  /** Across the link; infinite without. */
  readonly loadOhm?: number
  /** The precharge path is open. */
  readonly open?: boolean
  /** When the positive contactor closes; null = never, and all opens at `givesUpS`. Default 2.2 s. */
  readonly closesS?: number | null
  readonly givesUpS?: number
  /** When the key goes off, all opens. Default 20 s. */
  readonly keyOffS?: number
  readonly bleedS?: number
  /** Columns replaced or added: value at each moment, NaN = unbelievable, Infinity = no sample. */
  readonly columns?: Readonly<Record<string, (timeS: number) => number>>
  /** Columns left out. */
  readonly without?: readonly string[]
}

export function drawnStart(options: DrawnStart = {}): Drive {
  const { periodS = 0.02, endS = 30, packV = 400, ohm = 100, farad = 0.001 } = options
  const { loadOhm = Number.POSITIVE_INFINITY, keyOffS = 20, bleedS = 1, open = false } = options
  const closesS = options.closesS === undefined ? 2.2 : options.closesS
  const givesUpS = closesS === null ? (options.givesUpS ?? 4.4) : keyOffS
  const share = loadOhm === Number.POSITIVE_INFINITY ? 1 : loadOhm / (loadOhm + ohm)
  const tau = ohm * farad * share
  const during = (from: number, to: number) => (t: number) => (t >= from - 1e-9 && t < to - 1e-9 ? 1 : 0)
  const linkRise = (t: number): number => (open ? 0 : packV * share * (1 - Math.exp(-(t - 1.4) / tau)))
  const link = (t: number): number => {
    if (t < 1.4) return 0
    if (t < givesUpS - 1e-9) return closesS !== null && t >= closesS - 1e-9 ? packV : linkRise(t)
    const top = closesS !== null ? packV : linkRise(givesUpS)
    return top * Math.exp(-(t - givesUpS) / bleedS)
  }
  const readyS = closesS === null ? Number.POSITIVE_INFINITY : closesS + 0.4
  const driving = (t: number): boolean => t >= 5 && t < 15 && closesS !== null
  const all: Record<string, (timeS: number) => number> = {
    key_on: during(1, keyOffS),
    charge_plug: () => 0,
    interlock_closed: () => 1,
    inertia_closed: () => 1,
    contactor_negative: during(1.3, givesUpS),
    contactor_precharge: during(1.4, closesS === null ? givesUpS : closesS + 0.2),
    contactor_positive: closesS === null ? () => 0 : during(closesS, givesUpS),
    drive_ready: closesS === null ? () => 0 : during(readyS, givesUpS),
    link_voltage: link,
    pack_voltage: () => packV,
    pack_current: (t) => (driving(t) ? 40 : 0),
    lv_voltage: () => 12.6,
    isolation_resistance: () => 2000,
    brake_switch: (t) => (t < 4.5 || t > 15 ? 1 : 0),
    selector: (t) => (t >= 4 && t < 17 && closesS !== null ? 1 : 0),
    pedal_position: (t) => (driving(t) && t < 12 ? 25 : 0),
    speed: (t) => (driving(t) ? Math.min(30, (t - 5) * 10, (15 - t) * 12) : 0),
    ...options.columns,
  }
  const n = Math.round(endS / periodS) + 1
  const timeS = Float64Array.from({ length: n }, (_, i) => i * periodS)
  const columns: Record<string, Float64Array> = {}
  for (const [id, at] of Object.entries(all))
    if (!options.without?.includes(id)) columns[id] = timeS.map((t) => at(t))
  return driveFromColumns(timeS, columns)
}

/** Columns of a start in which nothing closes after the key is turned. */
export const BLOCKED = {
  contactor_negative: () => 0,
  contactor_precharge: () => 0,
  contactor_positive: () => 0,
  drive_ready: () => 0,
  link_voltage: () => 0,
  speed: () => 0,
  pack_current: () => 0,
}
