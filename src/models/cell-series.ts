import { type Facts, family } from '../analyses/analysis.ts'
import { heldAt } from '../drive/on-one-clock.ts'

/** Cells whose voltages stand on the same rows: one wide table, or one frame of a bus. */
export interface CellRows {
  readonly timeS: Float64Array
  /** 1 where the row brought new readings (not the last ones repeated). */
  readonly fresh: Uint8Array
}

export interface CellSeries {
  readonly cell: number
  readonly rows: number
  readonly volts: Float64Array
  /** 1 where the cell or a neighbour was being bled by the balancer; null where never. */
  readonly bled: Uint8Array | null
  readonly stepV: number
}

export interface CellTable {
  readonly rows: readonly CellRows[]
  readonly cells: readonly CellSeries[]
  /** Typical time between new readings of a cell, s. */
  readonly periodS: number
  /** Balancing is logged for the pack as a whole only. */
  readonly balancingLogged: 'by-cell' | 'as-a-whole' | 'no'
}

/**
 * All cell voltages of the drive, with the rows that they share, which rows are new and when a cell was bled.
 * Held repeats are taken from `Channel.fresh`; where the import could not say, a row in which every one of at least
 * eight cells repeats its last reading is a repeat.
 */
export function cellTable(facts: Facts): CellTable {
  const found = family(facts, 'cell_voltage').filter(({ channel }) => channel.timeS.length > 1)
  const bleeding = bledBy(facts)
  const rows: CellRows[] = []
  const place = new Map<Float64Array, number>()
  const members: number[][] = []
  for (const { number, channel } of found) {
    let at = place.get(channel.timeS)
    if (at === undefined) {
      at = rows.length
      place.set(channel.timeS, at)
      rows.push({ timeS: channel.timeS, fresh: channel.fresh ?? new Uint8Array(0) })
      members.push([])
    }
    members[at]!.push(number)
  }
  const byNumber = new Map(found.map((each) => [each.number, each.channel]))
  const filled = rows.map((each, at) => ({
    timeS: each.timeS,
    fresh:
      each.fresh.length > 0
        ? each.fresh
        : notRepeated(
            members[at]!.map((number) => byNumber.get(number)!.values),
            each.timeS.length,
          ),
  }))
  const cells = found.map(({ number, channel }) => ({
    cell: number,
    rows: place.get(channel.timeS)!,
    volts: channel.values,
    bled: bleeding.during(number, channel.timeS),
    stepV: channel.step > 0 ? channel.step : smallestStep(channel.values),
  }))
  return { rows: filled, cells, periodS: newPeriod(filled), balancingLogged: bleeding.logged }
}

function notRepeated(columns: readonly Float64Array[], n: number): Uint8Array {
  const fresh = new Uint8Array(n).fill(1)
  if (columns.length < 8) return fresh
  for (let i = 1; i < n; i++) {
    let same = true
    for (let c = 0; c < columns.length && same; c++)
      same =
        columns[c]![i] === columns[c]![i - 1] ||
        (Number.isNaN(columns[c]![i]!) && Number.isNaN(columns[c]![i - 1]!))
    if (same) fresh[i] = 0
  }
  return fresh
}

/** Smallest difference between successive readings that differ: the measuring step, V; 0 where never. */
function smallestStep(values: Float64Array): number {
  let step = Number.POSITIVE_INFINITY
  const n = Math.min(values.length, 20000)
  for (let i = 1; i < n; i++) {
    const difference = Math.abs(values[i]! - values[i - 1]!)
    if (difference > 5e-5 && difference < step) step = difference
  }
  return Number.isFinite(step) ? step : 0
}

function newPeriod(rows: readonly CellRows[]): number {
  const spacings: number[] = []
  for (const { timeS, fresh } of rows.slice(0, 4)) {
    let last = Number.NaN
    const stride = Math.max(1, Math.floor(timeS.length / 20000))
    for (let i = 0; i < timeS.length; i++) {
      if (!fresh[i]) continue
      if (!Number.isNaN(last) && i % stride === 0 && timeS[i]! > last) spacings.push(timeS[i]! - last)
      last = timeS[i]!
    }
  }
  if (spacings.length === 0) return Number.NaN
  spacings.sort((a, b) => a - b)
  return spacings[spacings.length >> 1]!
}

/** When a cell or its neighbour is bled. A flag that stays on all the time tells nothing and is not used. */
function bledBy(facts: Facts): {
  logged: CellTable['balancingLogged']
  during: (cell: number, timeS: Float64Array) => Uint8Array | null
} {
  const flags = new Map(family(facts, 'balancing').map((each) => [each.number, each.channel]))
  const whole = facts.drive.channels.get('balancing_on')
  const on = (values: Float64Array): boolean => values.some((value) => value === 1)
  const held = new Map<string, Float64Array>()
  const at = (id: string, channel: typeof whole, timeS: Float64Array): Float64Array => {
    const key = `${id} ${timeS.length} ${timeS[0]}`
    let values = held.get(key)
    if (!values) held.set(key, (values = heldAt(channel!, timeS)))
    return values
  }
  return {
    logged: flags.size > 0 ? 'by-cell' : whole ? 'as-a-whole' : 'no',
    during: (cell, timeS) => {
      const sources: Float64Array[] = []
      for (const number of [cell - 1, cell, cell + 1]) {
        const flag = flags.get(number)
        if (flag && on(flag.values)) sources.push(at(`${number}`, flag, timeS))
      }
      if (flags.size === 0 && whole && on(whole.values)) sources.push(at('all', whole, timeS))
      if (sources.length === 0) return null
      const bled = new Uint8Array(timeS.length)
      let count = 0
      for (let i = 0; i < bled.length; i++)
        if (sources.some((source) => source[i] === 1)) {
          bled[i] = 1
          count++
        }
      return count === 0 ? null : bled
    },
  }
}
