import type { Channel, Drive } from '../../../shared/drive.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'

/** Times at which switches are read, s, coarsest first. */
const GRIDS_S = [2, 1, 0.5, 0.25, 0.2, 0.1, 0.05] as const
const LEAST_CHANGES = 4
/** Written at least this many times a reading, or the rows themselves are as good as the grid. */
const ROWS_A_READING = 3
const BATTERY_SIDE = /^(contactor_|bms_state|bms_faults|interlock)/

/**
 * How often the switches that are read together with this one are truly read, s; 0 where no more can be said than
 * that each row is a reading. In a log that repeats the last value on every row a contactor read twice a second looks
 * as if it were read at each row, and changes up to half a second late.
 *
 * Model: changes at rows t_k; read every P, all (t_k mod P) lie within one row's spacing R of each other. By luck n
 * changes do so with a chance of (R / P)^(n − 1): under 4 % for 4 changes and P = 3 R. A wrong hit only widens a bracket.
 * A controller that works in steps also switches on a grid, so the log must be seen to repeat other readings.
 * Reads: switches and codes of one file and one side of the car (battery unit, or the rest). Blind under 4 changes.
 */
export function switchGridS(drive: Drive, channel: Channel): number {
  const battery = BATTERY_SIDE.test(channel.id)
  const rowS = samplePeriod(channel.timeS)
  if (!(rowS > 0) || !repeatsReadings(drive, channel)) return 0
  const stamps = new Set<number>()
  for (const other of drive.channels.values()) {
    const kin = other.file === channel.file && BATTERY_SIDE.test(other.id) === battery
    if (!kin || !isSwitch(other) || other.timeS.length !== channel.timeS.length) continue
    for (let i = 1; i < other.values.length; i++)
      if (other.values[i] !== other.values[i - 1] && Number.isFinite(other.values[i]! + other.values[i - 1]!))
        stamps.add(other.timeS[i]!)
  }
  if (stamps.size < LEAST_CHANGES) return 0
  const on = GRIDS_S.find((grid) => grid >= ROWS_A_READING * rowS && arcOf([...stamps], grid) < 1.2 * rowS)
  return on ?? 0
}

/** Is another channel on the same rows mostly repeats? */
function repeatsReadings(drive: Drive, { file, timeS }: Channel): boolean {
  for (const { file: other, timeS: rows, fresh } of drive.channels.values()) {
    if (!fresh || other !== file || rows.length !== timeS.length) continue
    let anew = 0
    for (const each of fresh) anew += each
    if (anew * ROWS_A_READING <= fresh.length) return true
  }
  return false
}

const isSwitch = ({ id, polarity, labels }: Channel): boolean =>
  /_state$|^selector$/.test(id) || (polarity !== null && labels === null)

/** The shortest stretch of a circle of `round` that holds all stamps. */
function arcOf(stamps: readonly number[], round: number): number {
  const phases = stamps.map((at) => at - round * Math.floor(at / round)).sort((a, b) => a - b)
  let widest = phases[0]! + round - phases.at(-1)!
  for (let i = 1; i < phases.length; i++) widest = Math.max(widest, phases[i]! - phases[i - 1]!)
  return round - widest
}
