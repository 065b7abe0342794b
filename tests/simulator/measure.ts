import type { Box, Reading } from './boxes.ts'
import { active, type Fault, faultsOf } from './faults.ts'
import type { Random } from './random.ts'
import type { Trace } from './trace.ts'
import { TruthAt } from './truth-at.ts'

/**
 * Samples of one channel as its box wrote them, in the catalogue's unit.
 *
 *     timeS   true time of the stamps; channels of one reading share the array
 *     fresh   1 where converted, 0 where the row only repeats the last value; null: all converted
 */
export interface Samples {
  readonly id: string
  readonly reading: Reading
  readonly box: Box
  readonly timeS: Float64Array
  readonly values: Float64Array
  readonly fresh: Uint8Array | null
}

/** What boxes measure: the true value of any channel at any moments, and how long the drive is. */
export interface Measurable {
  readonly durationS: number
  readonly faults: readonly Fault[]
  values(id: string, atS: ArrayLike<number>, filterS?: number): Float64Array
}

/** Lets every box measure the drive. */
export function measure(trace: Trace, boxes: readonly Box[], random: Random): Samples[] {
  return measureAny(new TruthAt(trace), boxes, random)
}

export function measureAny(truth: Measurable, boxes: readonly Box[], random: Random): Samples[] {
  return boxes.flatMap((box) => {
    const due = rowTimes(truth, box)
    const rows = { due, stamped: jittered(due, box, random.fork(`${box.name}/rows`)) }
    return box.readings.flatMap((reading, at) =>
      measureReading(truth, box, reading, rows, random.fork(`${box.name}/${at}/${reading.channels[0]}`)),
    )
  })
}

/** Stamps of the box's rows, true time; rows inside a log gap are not written. */
export function rowTimes(truth: Measurable, box: Box): Float64Array {
  const fromS = box.fromS ?? 0
  const toS = Math.min(box.toS ?? Number.POSITIVE_INFINITY, truth.durationS)
  const count = Math.max(0, Math.floor((toS - fromS) * box.rowHz + 1e-9) + 1)
  const gaps = faultsOf(truth.faults, 'log-gap').filter(
    (gap) => gap.box === undefined || gap.box === box.name,
  )
  const rows = Float64Array.from({ length: count }, (_, i) => fromS + i / box.rowHz)
  return gaps.length === 0 ? rows : rows.filter((t) => !gaps.some((gap) => active(gap, t)))
}

/** Rows of a box: when they are due, and when they come (their stamps). */
interface Rows {
  readonly due: Float64Array
  readonly stamped: Float64Array
}

/** Rows early or late, never past their neighbours. */
function jittered(rows: Float64Array, box: Box, random: Random): Float64Array {
  if (!box.jitterS) return rows
  const most = 0.45 / box.rowHz
  const last = rows[rows.length - 1] ?? 0
  return rows.map((t) => {
    const by = Math.max(-most, Math.min(most, box.jitterS! * random.normal()))
    return Math.max(0, Math.min(last, Math.round((t + by) * 1e6) / 1e6))
  })
}

function measureReading(
  truth: Measurable,
  box: Box,
  reading: Reading,
  rows: Rows,
  random: Random,
): Samples[] {
  const silences = faultsOf(truth.faults, 'node-silent').filter((fault) => fault.node === reading.node)
  const stamps = sampledRows(rows, reading, silences)
  const n = reading.channels.length
  const held = reading.held ? holdRows(rows.stamped, stamps) : null
  const all = reading.channels.map((id, j): Samples => {
    const together = reading.scanGroup ?? 1
    const groups = Math.ceil(n / together)
    const turn = Math.floor(j / together)
    const age = (reading.delayS ?? 0) + ((reading.scanS ?? 0) * (groups - 1 - turn)) / groups
    const moments = age > 0 ? stamps.map((t) => t - age) : stamps
    const values = truth.values(id, moments, reading.filterS ?? 0)
    if (reading.turnedOnCharge) turnOnCharge(truth, stamps, values)
    disturb(values, stamps, reading, random)
    broken(values, id, stamps, truth.faults)
    if (held)
      return {
        id,
        reading,
        box,
        timeS: held.timeS,
        values: Float64Array.from(held.from, (at) => values[at]!),
        fresh: held.fresh,
      }
    return { id, reading, box, timeS: stamps, values, fresh: null }
  })
  return reading.onChange ? all.map(onlyChanges) : all
}

/** The rows on which a slower reading has a new value: the first at or after each of its own moments. */
function sampledRows(
  { due, stamped }: Rows,
  reading: Reading,
  silences: readonly { fromS?: number; toS?: number }[],
): Float64Array {
  const phaseS = reading.phaseS ?? 0
  const out = new Float64Array(due.length)
  let count = 0
  let last = Number.NEGATIVE_INFINITY
  for (let i = 0; i < due.length; i++) {
    const t = due[i]!
    const turn = Math.floor((t - phaseS) * reading.rateHz + 1e-6)
    if (turn <= last || silences.some((silence) => active(silence, t))) continue
    last = turn
    out[count++] = stamped[i]!
  }
  // Readings taken on every row share the rows' array.
  return count === due.length ? stamped : out.slice(0, count)
}

function holdRows(
  rows: Float64Array,
  stamps: Float64Array,
): { timeS: Float64Array; from: Int32Array; fresh: Uint8Array } {
  const first = stamps[0] ?? Number.POSITIVE_INFINITY
  const timeS = rows.filter((t) => t >= first)
  const from = new Int32Array(timeS.length)
  const fresh = new Uint8Array(timeS.length)
  let at = -1
  for (let i = 0; i < timeS.length; i++) {
    if (at + 1 < stamps.length && stamps[at + 1]! <= timeS[i]!) {
      at++
      fresh[i] = 1
    }
    from[i] = at
  }
  return { timeS, from, fresh }
}

function turnOnCharge(truth: Measurable, stamps: Float64Array, values: Float64Array): void {
  const plug = truth.values('charge_plug', stamps)
  for (let i = 0; i < values.length; i++) if (plug[i] === 1) values[i] = -values[i]!
}

function disturb(values: Float64Array, stamps: Float64Array, reading: Reading, random: Random): void {
  const gain = 1 + (reading.gain ?? 0)
  const offset = reading.offset ?? 0
  const creep = (reading.creep ?? 0) / 3600
  const noise = reading.noise ?? 0
  const step = reading.step ?? 0
  const [low, high] = reading.clip ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
  const turned = reading.turned ? -1 : 1
  // Dividing by a whole number of steps a unit gives the nearest double to the decimal: 3.998, not 3.9980000000000002.
  const perUnit = step > 0 && step < 1 ? Math.round(1 / step) : 0
  for (let i = 0; i < values.length; i++) {
    let value =
      turned * ((reading.inverted ? 1 - values[i]! : values[i]!) * gain + offset + creep * stamps[i]!)
    if (noise > 0) value += noise * random.normal()
    if (reading.unsigned) value = Math.abs(value)
    if (value < low) value = low
    else if (value > high) value = high
    if (perUnit > 0) value = Math.round(value * perUnit) / perUnit
    else if (step > 0) value = Math.round(value / step) * step
    values[i] = value + 0
  }
}

/** Readings that stand still or say nonsense. */
function broken(values: Float64Array, id: string, stamps: Float64Array, faults: readonly Fault[]): void {
  const dot = id.lastIndexOf('.')
  const number = dot > 0 ? Number(id.slice(dot + 1)) : 0
  const family = dot > 0 ? id.slice(0, dot) : id
  for (const fault of faults) {
    const frozen =
      (fault.kind === 'cell-frozen' && family === 'cell_voltage' && fault.cell === number) ||
      (fault.kind === 'temperature-frozen' && family === 'module_temperature' && fault.sensor === number) ||
      (fault.kind === 'drive-temperature-frozen' && fault.channel === id)
    const invalid =
      (fault.kind === 'cell-invalid' && family === 'cell_voltage' && fault.cell === number) ||
      (fault.kind === 'temperature-open' && family === 'module_temperature' && fault.sensor === number) ||
      (fault.kind === 'drive-temperature-open' && fault.channel === id)
    if (!frozen && !invalid) continue
    let stuck = Number.NaN
    for (let i = 0; i < values.length; i++) {
      if (!active(fault as { fromS?: number; toS?: number }, stamps[i]!)) stuck = Number.NaN
      else if (invalid) values[i] = (fault as { value: number }).value
      else if (Number.isNaN(stuck)) stuck = values[i]!
      else values[i] = stuck
    }
  }
}

function onlyChanges(samples: Samples): Samples {
  const keep = Array.from(samples.values, (value, i) => i === 0 || value !== samples.values[i - 1])
  return {
    ...samples,
    timeS: samples.timeS.filter((_, i) => keep[i]),
    values: samples.values.filter((_, i) => keep[i]),
    fresh: null,
  }
}
