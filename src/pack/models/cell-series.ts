import type { Channel } from '../../../shared/drive.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { heldAt } from '../../samples/on-one-clock.ts'

/** Rows of fewer cells may be alike by chance; no source. */
const FEWEST_COLUMNS = 8

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
  /** The rows that leave the fit: `bled`, or fewer where too few would remain (offsets may then be some mV off). */
  readonly leave: Uint8Array | null
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
    const at = place.get(channel.timeS) ?? alongside(rows, channel)
    place.set(channel.timeS, at)
    if (at === rows.length) {
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
    ...bleeding.during(number, channel.timeS),
    stepV: channel.step > 0 ? channel.step : smallestStep(channel.values),
  }))
  return { rows: filled, cells, periodS: newPeriod(filled), balancingLogged: bleeding.logged }
}

/** How evenly two frames must follow each other to count as the same rows, and how closely, s. */
const EVEN_S = 0.01
const CLOSE_S = 0.3

/**
 * Rows that this channel's own times follow at a steady distance (frames of one cycle): the distance then is part of
 * the cell's lag. The number of rows known where there are none.
 */
function alongside(rows: readonly CellRows[], { timeS, fresh }: Channel): number {
  const n = timeS.length
  const found = rows.findIndex((each) => {
    if (each.timeS.length !== n || (fresh === null) !== (each.fresh.length === 0)) return false
    let low = Number.POSITIVE_INFINITY
    let high = Number.NEGATIVE_INFINITY
    for (let k = 0; k <= 40; k++) {
      const i = Math.round((k * (n - 1)) / 40)
      const apart = timeS[i]! - each.timeS[i]!
      low = Math.min(low, apart)
      high = Math.max(high, apart)
      if (fresh && fresh[i] !== each.fresh[i]) return false
    }
    return high - low < EVEN_S && Math.max(-low, high) < CLOSE_S
  })
  return found < 0 ? rows.length : found
}

function notRepeated(columns: readonly Float64Array[], n: number): Uint8Array {
  const fresh = new Uint8Array(n).fill(1)
  if (columns.length < FEWEST_COLUMNS) return fresh
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

/** Rows within this of a bled one leave too: flags come late and seldom, s. */
const BLEED_MARGIN_S = 1
/** A cell keeps at least this share of its rows in the fit, else bled ones stay. */
const LEAST_KEPT = 0.25

/** Which rows of a cell leave for balancing: its own and its neighbours', its own only, or none if too few remain. */
function bledBy(facts: Facts): {
  logged: CellTable['balancingLogged']
  during: (cell: number, timeS: Float64Array) => Pick<CellSeries, 'bled' | 'leave'>
} {
  const flags = new Map(family(facts, 'balancing').map((each) => [each.number, each.channel]))
  const whole = facts.drive.channels.get('balancing_on')
  const masks = new Map<string, Uint8Array | null>()
  const mask = (key: string, flag: Channel | undefined, timeS: Float64Array): Uint8Array | null => {
    const name = `${key} ${timeS.length} ${timeS[0]}`
    let known = masks.get(name)
    if (known === undefined) {
      known = flag?.values.some((value) => value === 1) ? widened(flag, timeS) : null
      masks.set(name, known)
    }
    return known
  }
  const kept = (bled: Uint8Array): number => 1 - bled.reduce((sum, each) => sum + each, 0) / bled.length
  return {
    logged: flags.size > 0 ? 'by-cell' : whole ? 'as-a-whole' : 'no',
    during: (cell, timeS) => {
      const of = (number: number): Uint8Array | null =>
        flags.size > 0 ? mask(`${number}`, flags.get(number), timeS) : mask('all', whole, timeS)
      const own = of(cell)
      const around = flags.size > 0 ? [own, of(cell - 1), of(cell + 1)] : [own]
      const all = union(around.flatMap((each) => (each ? [each] : [])))
      if (!all) return { bled: null, leave: null }
      if (kept(all) >= LEAST_KEPT) return { bled: all, leave: all }
      return { bled: all, leave: own && kept(own) >= LEAST_KEPT ? own : null }
    },
  }
}

function widened(flag: Channel, timeS: Float64Array): Uint8Array {
  const now = heldAt(flag, timeS)
  const soon = heldAt(
    flag,
    timeS.map((t) => t + BLEED_MARGIN_S),
  )
  const before = heldAt(
    flag,
    timeS.map((t) => t - BLEED_MARGIN_S),
  )
  return Uint8Array.from(timeS, (_, i) => (now[i] === 1 || soon[i] === 1 || before[i] === 1 ? 1 : 0))
}

function union(masks: readonly Uint8Array[]): Uint8Array | null {
  if (masks.length < 2) return masks[0] ?? null
  return masks[0]!.map((each, i) => (each || masks.some((mask) => mask[i]) ? 1 : 0))
}
