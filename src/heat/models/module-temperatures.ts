import type { Span } from '../../../shared/units.ts'
import type { Facts } from '../../facts/facts.ts'
import { family } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { extremes, mean, median } from '../../math/stats.ts'
import { cellPeers } from '../../pack/models/cell-peers.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

/** One temperature sensor on the common grid, with what it is worth. */
export interface Sensor {
  readonly number: number
  /** °C on the grid; NaN where it gave nothing believable. */
  readonly celsius: Float64Array
  /** °C that it read above the pack's median before the drive warmed anything; taken out for comparisons. */
  readonly offsetC: number
  /** °C between neighbouring readings (resolution). */
  readonly stepC: number
  readonly place: 'cell' | 'busbar' | 'plate' | 'air'
  /** Longest stretch in which it never changed though its peers moved; null where there is none. */
  readonly frozen_s: Span | null
}

export interface ModuleTemperature {
  /** 1-based; the sensor's own number where the vehicle file does not say which module a sensor sits in. */
  readonly index: number
  readonly sensors: readonly Sensor[]
  /** Mean of the module's cell sensors with their offsets taken out, °C on the grid. */
  readonly celsius: Float64Array
}

export interface ModuleTemperatures {
  /** Grid, s: evenly spaced. */
  readonly timeS: Float64Array
  readonly stepS: number
  readonly modules: readonly ModuleTemperature[]
  /** What says which module a sensor sits in: without it each sensor stands for itself. */
  readonly placedFrom: 'vehicle file' | 'pattern of the long busbars' | null
}

/** Points of the grid: heat moves over minutes, so several hundred are plenty for a drive of any length. */
const GRID_POINTS = 600

/**
 * Module temperatures on one even grid.
 *
 * Which sensors sit in a module comes from `pack.sensors_of_module`; without it, sensors that divide evenly over the
 * known modules are taken in order (modules known from the vehicle file, or found from the pattern of long busbars in
 * the cells' resistances); else each sensor stands for itself.
 * Each sensor's offset is what it read above the median of all in the log's first tenth (at most 60 s) provided the
 * pack had then moved less than two of its steps: a pack that was warm at the start keeps its real differences.
 */
export function moduleTemperatures(facts: Facts): ModuleTemperatures | null {
  const sensors = family(facts, 'module_temperature')
  if (sensors.length === 0 || !(facts.drive.durationS > 0)) return null
  const stepS = Math.max(1, facts.drive.durationS / GRID_POINTS)
  const count = Math.max(2, Math.floor(facts.drive.durationS / stepS) + 1)
  const timeS = Float64Array.from({ length: count }, (_, i) => i * stepS)
  const early = Math.max(1, Math.min(Math.ceil(60 / stepS), Math.ceil(count / 10)))
  const readings = sensors.map(({ channel }) => linearAt(channel, timeS, Math.max(60, 5 * stepS)))
  const firsts = readings.map((celsius) => mean(celsius.subarray(0, early)))
  const usual = median(firsts)
  const frozen = frozenSpans(facts, readings, timeS, stepS)
  const places = facts.vehicle.pack?.sensor_place_of_sensor ?? []
  const made = sensors.map(({ number, channel }, at): Sensor => {
    const stepC = channel.step > 0 ? channel.step : smallestStep(channel.values)
    const { low, high } = extremes(readings[at]!.subarray(0, early))
    const offset = firsts[at]! - usual
    // A soaked pack: sensors agree within a few steps, and nothing moved yet.
    const soaked = Math.abs(offset) <= Math.max(2.5, 3 * stepC) && high - low <= Math.max(2 * stepC, 0.5)
    return {
      number,
      celsius: readings[at]!,
      offsetC: soaked && Number.isFinite(offset) ? offset : 0,
      stepC,
      place: places[number - 1] ?? 'cell',
      frozen_s: frozen[at]!,
    }
  })
  const { groups, placedFrom } = sensorGroups(facts, made)
  const modules = groups.map(([index, members]): ModuleTemperature => {
    const inCells = members.filter((sensor) => sensor.place === 'cell')
    const used = inCells.length > 0 ? inCells : members
    const celsius = timeS.map((t, i) =>
      mean(
        used.map((sensor) =>
          sensor.frozen_s && t >= sensor.frozen_s[0] && t < sensor.frozen_s[1]
            ? Number.NaN
            : sensor.celsius[i]! - sensor.offsetC,
        ),
      ),
    )
    return { index, sensors: members, celsius }
  })
  return { timeS, stepS, modules, placedFrom }
}

function sensorGroups(
  facts: Facts,
  sensors: readonly Sensor[],
): { groups: [number, Sensor[]][]; placedFrom: ModuleTemperatures['placedFrom'] } {
  const stated = facts.vehicle.pack?.sensors_of_module
  if (stated) {
    const groups = stated.map((numbers, at): [number, Sensor[]] => [
      at + 1,
      sensors.filter((sensor) => numbers.includes(sensor.number)),
    ])
    return { groups: groups.filter(([, members]) => members.length > 0), placedFrom: 'vehicle file' }
  }
  const modules = facts.layout.known ? facts.layout.moduleStarts.length - 1 : modulesByLinks(facts)
  const each = sensors.length / modules
  if (modules > 1 && Number.isInteger(each)) {
    const groups: [number, Sensor[]][] = Array.from({ length: modules }, (_, at) => [
      at + 1,
      sensors.slice(at * each, (at + 1) * each),
    ])
    return { groups, placedFrom: facts.layout.known ? 'vehicle file' : 'pattern of the long busbars' }
  }
  return { groups: sensors.map((sensor) => [sensor.number, [sensor]]), placedFrom: null }
}

/** How many equal modules the long busbars part the cells into; 0 where they show no even pattern. */
function modulesByLinks(facts: Facts): number {
  const links = facts.once(cellPeers)?.links
  const cells = [...(links?.cells ?? [])].sort((a, b) => a - b)
  if (links?.foundFrom !== 'pattern' || cells.length < 2) return 0
  const size = cells[1]! - cells[0]!
  const even = cells.every((cell, at) => at === 0 || cell - cells[at - 1]! === size)
  return even && facts.layout.cells === size * (cells.length + 1) ? cells.length + 1 : 0
}

/** Smallest difference between neighbouring different readings; NaN where the reading never changed. */
export function smallestStep(values: ArrayLike<number>): number {
  let step = Number.POSITIVE_INFINITY
  for (let i = 1; i < values.length; i++) {
    const move = Math.abs(values[i]! - values[i - 1]!)
    if (move > 1e-9 && move < step) step = move
  }
  return Number.isFinite(step) ? step : Number.NaN
}

/**
 * For each sensor the longest stretch in which its reading stayed the very same while the median of the others moved
 * by more than the limit (3 K) and by three of the sensor's own steps, counted as much as the sensor follows its peers
 * elsewhere in the log (a sensor on a cold plate moves less). null where there is none.
 */
function frozenSpans(
  facts: Facts,
  readings: readonly Float64Array[],
  timeS: Float64Array,
  stepS: number,
): (Span | null)[] {
  const limit = facts.limits.frozenTemperaturePeers.attention ?? 3
  if (readings.length < FEWEST_PEERS) return readings.map(() => null)
  return readings.map((own, at) => {
    const others = readings.filter((_, other) => other !== at)
    const peers = timeS.map((_, i) => median(others.map((other) => other[i]!)))
    const step = smallestStep(own)
    let found: Span | null = null
    for (let from = 0; from < own.length; ) {
      let to = from + 1
      while (to < own.length && Math.abs(own[to]! - own[from]!) < 1e-9) to++
      const { low, high } = extremes(peers.subarray(from, to))
      const length = (to - from) * stepS
      if (high - low >= limit && length > (found ? found[1] - found[0] : 0)) {
        const follows = follow(own, peers, from, to)
        if (follows * (high - low) >= (Number.isFinite(step) ? 3 * step : limit))
          found = [timeS[from]!, timeS[to - 1]!]
      }
      from = to
    }
    return found
  })
}

/** How much of its peers' range the sensor shows outside a stretch, 0 … 1; 1 where the peers moved too little to tell. */
function follow(own: Float64Array, peers: Float64Array, from: number, to: number): number {
  const outside = (values: Float64Array): number => {
    const { low, high } = extremes([...values.subarray(0, from), ...values.subarray(to)])
    return high - low
  }
  const peersMoved = outside(peers)
  return peersMoved >= 2 ? Math.min(1, outside(own) / peersMoved) : 1
}
