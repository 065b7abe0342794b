import { catalogueEntry } from '../../../shared/channels.ts'
import { linearAt, samplePeriod } from '../../samples/on-one-clock.ts'
import type { Cleaned } from '../cleaning/clean-channel.ts'
import { freshRows } from '../cleaning/held-rows.ts'

/** With fewer channels in both logs, channels that move alike are compared as well; no source. */
const FEWEST_SHARED = 3
/** Beyond noise about zero. */
const SIGNED_FROM = 1

/** One reading of a quantity for comparing clocks: own time, in its log's order, repeats of held rows dropped. */
export interface Reading {
  readonly timeS: Float64Array
  readonly values: Float64Array
  /** Typical spacing of new values, s. */
  readonly periodS: number
  /**
   * How late a value may be, s (one standard deviation): rows that repeat what was polled more slowly by up to a poll;
   * rows of a table by what the box takes to gather them, a fifth of their spacing either way. Common practice, no source.
   */
  readonly lateS: number
  /** How far an edge may lie from where it is seen, s (one standard deviation): switches between two samples; else 0. */
  readonly edgeS: number
}

/** Two readings, one a log, of one quantity or of two that move together (voltage sags as current rises). */
export interface ClockPair {
  readonly name: string
  readonly first: Reading
  readonly second: Reading
  /** The same quantity in both logs; false for two that only move together. */
  readonly same: boolean
  /** How far the two sensors' own delays may differ, s (one standard deviation): more for unlike quantities. */
  readonly delayS: number
}

/**
 * Unlike quantities that move together, best first. Delays: common practice, no source (filters of speed and torque
 * channels are tens of milliseconds; a pack's polarisation makes its voltage trail the current by about a tenth).
 */
const ALIKE: readonly (readonly [string, string, number])[] = [
  ['pack_current', 'inverter_dc_current', 0.01],
  ['pack_current', 'pack_power', 0.01],
  ['pack_voltage', 'link_voltage', 0.01],
  ['pack_current', 'shaft_power', 0.03],
  ['pack_current', 'pack_voltage', 0.1],
  ['pack_current', 'link_voltage', 0.1],
  ['pack_voltage', 'shaft_power', 0.1],
  ['pack_current', 'lowest_cell_voltage', 0.15],
  ['pack_current', 'cell_voltage.1', 0.15],
  ['pack_current', 'torque', 0.1],
  ['speed', 'motor_speed', 0.05],
  ['speed', 'wheel_speed.1', 0.05],
  ['motor_speed', 'wheel_speed.1', 0.05],
  ['torque_request', 'torque', 0.05],
]

const MOTION = new Set(['speed', 'motor_speed', 'wheel_speed.1'])
/** Same quantity in both logs: those that move fast first. */
const FIRST = [
  'pack_current',
  'inverter_dc_current',
  'pack_voltage',
  'link_voltage',
  'torque',
  'torque_request',
  'motor_speed',
  'speed',
]
const MOST = 8
/** A switch's grid holds no more points: a drive of days is looked at more coarsely. */
const MOST_POINTS = 500_000

/** One log's channels; `inRows`: its values are gathered into the rows of a table, not stamped one by one. */
export interface ClockSide {
  readonly named: readonly Cleaned[]
  readonly inRows: boolean
}

/** What two logs share, best first; at most eight pairs. */
export function clockPairs(a: ClockSide, b: ClockSide): ClockPair[] {
  const first = quantities(a.named)
  const second = quantities(b.named)
  const rank = (id: string): number => (FIRST.indexOf(id) + FIRST.length) % FIRST.length
  const shared = [...first.keys()]
    .filter((id) => second.has(id) && FIRST.includes(id))
    .sort((x, y) => rank(x) - rank(y))
  const others = [...first.keys()]
    .filter((id) => second.has(id) && !FIRST.includes(id) && !tooSlow(id))
    .sort()
  const pairs: ClockPair[] = []
  const add = (one: string, two: string, delayS: number): void => {
    if (pairs.length >= MOST) return
    const x = reading(first.get(one)!, a.inRows)
    const y = reading(second.get(two)!, b.inRows)
    if (!x || !y) return
    const unsigned = MOTION.has(one) || (one.endsWith('current') && isUnsigned(x) !== isUnsigned(y))
    const name = one === two ? one : `${one} against ${two}`
    pairs.push({
      name,
      first: unsigned ? magnitude(x) : x,
      second: unsigned ? magnitude(y) : y,
      same: one === two,
      delayS,
    })
  }
  for (const id of shared) add(id, id, 0.005)
  if (pairs.length < FEWEST_SHARED)
    for (const [one, two, delayS] of ALIKE) {
      if (first.has(one) && second.has(two)) add(one, two, delayS)
      if (first.has(two) && second.has(one)) add(two, one, delayS)
    }
  for (const id of others) add(id, id, 0.01)
  return pairs
}

/** Temperatures, charge and limits tell no moment. */
const tooSlow = (id: string): boolean =>
  /temperature|coolant|^soc$|limit$|isolation|cell_voltage\.|balancing|resistance|number$/.test(id)

interface Series {
  readonly timeS: Float64Array
  readonly values: Float64Array
  readonly isSwitch: boolean
}

function quantities(all: readonly Cleaned[]): Map<string, Series> {
  const found = new Map<string, Series>()
  for (const { id, series } of all) {
    if (series.timeS.length < 2 || found.has(id)) continue
    if (series.labels && catalogueEntry(id)?.kind === 'number') continue
    const kind = catalogueEntry(id)?.kind ?? 'number'
    found.set(id, {
      timeS: series.timeS,
      values: series.values,
      isSwitch: kind !== 'number' || series.labels !== null,
    })
  }
  // a file a module: its first cell, whatever its number in the pack
  const cell = all.find(({ id, series }) => id.startsWith('cell_voltage.') && series.timeS.length >= 2)
  if (cell && !found.has('cell_voltage.1'))
    found.set('cell_voltage.1', {
      timeS: cell.series.timeS,
      values: cell.series.values,
      isSwitch: false,
    })
  const torque = found.get('torque')
  const speed = found.get('motor_speed') ?? found.get('speed')
  if (torque && speed) {
    const channel = {
      ...speed,
      id: '',
      unit: '',
      fresh: null,
      labels: null,
      file: '',
      from: '',
      step: 0,
      polarity: null,
    }
    const at = linearAt(channel, torque.timeS, 2)
    found.set('shaft_power', {
      ...torque,
      values: torque.values.map((newtonMetres, i) => newtonMetres * at[i]!),
    })
  }
  return found
}

function reading({ timeS, values, isSwitch }: Series, inRows: boolean): Reading | null {
  if (isSwitch) return switchReading(timeS, values)
  const fresh = freshRows([values], Number.POSITIVE_INFINITY)
  const rowS = samplePeriod(timeS)
  const keep = fresh ? values.map((value, i) => (fresh[i] ? value : Number.NaN)) : values
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const value of keep) {
    if (value < low) low = value
    if (value > high) high = value
  }
  if (!(high > low) || !(rowS > 0)) return null
  const periodS = fresh ? samplePeriod(timeS.filter((_, i) => fresh[i] === 1)) : rowS
  return {
    timeS,
    values: keep,
    periodS,
    lateS: fresh ? periodS / Math.sqrt(3) : inRows ? periodS / 10 : 0,
    edgeS: 0,
  }
}

/** A switch as a reading: held between its samples, on a grid of its usual spacing. null where it never turns. */
function switchReading(timeS: Float64Array, values: Float64Array): Reading | null {
  if (!values.some((value, i) => i > 0 && value !== values[i - 1] && !Number.isNaN(value))) return null
  const from = timeS[0]!
  const lengthS = timeS[timeS.length - 1]! - from
  const stepS = Math.max(Math.min(1, Math.max(0.02, samplePeriod(timeS))), lengthS / MOST_POINTS)
  const count = Math.floor(lengthS / stepS) + 1
  const grid = Float64Array.from({ length: count }, (_, k) => from + k * stepS)
  const held = new Float64Array(count)
  for (let k = 0, at = 0; k < count; k++) {
    while (at + 1 < timeS.length && timeS[at + 1]! <= grid[k]!) at++
    held[k] = values[at]!
  }
  return {
    timeS: grid,
    values: held,
    periodS: stepS,
    lateS: stepS / Math.sqrt(3),
    edgeS: stepS / Math.sqrt(12),
  }
}

function isUnsigned(reading: Reading): boolean {
  let below = 0
  let above = 0
  for (const value of reading.values) {
    if (value < -SIGNED_FROM) below++
    if (value > SIGNED_FROM) above++
  }
  return below < 0.002 * above
}

const magnitude = (reading: Reading): Reading => ({ ...reading, values: reading.values.map(Math.abs) })
