import { fallPerKelvin, warmthLaw } from '../../car/resistance-warmth.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { picked } from '../../math/picked.ts'
import { mean, meanSeries, median } from '../../math/stats.ts'
import { moduleResistance } from './module-resistance.ts'
import { type ModuleTemperatures, moduleTemperatures } from './module-temperatures.ts'

/** Two modules' sensors taken for each other. */
export interface SwapHypothesis {
  readonly modules: readonly [number, number]
  /** Sensors of the first and of the second module that changed places. */
  readonly sensors: readonly (readonly [number, number])[]
  /** ln of how much better the readings fit with the swap than as the vehicle file has them. */
  readonly logRatio: number
  /** Of it, from the cells' resistance and from the agreement of sensors in one module. */
  readonly fromResistance: number
  readonly fromAgreement: number
  /** How far apart the two modules moved over the drive with the swap undone, and as the readings stand, K. */
  readonly apartC: number
  readonly statedApartC: number
}

export interface SensorSwaps {
  /** Best first; every pair of modules that the log lets be tried. */
  readonly tried: readonly SwapHypothesis[]
  /** ln of the ratio that counts, all pairs tried together held to a false alarm in 300 drives. */
  readonly needed: number
  readonly heldAgainst: readonly ('resistance' | 'agreement')[]
  /** Two modules that moved apart by this much would have been told, K. */
  readonly smallestC: number
  /** The furthest that any two modules moved apart, K. */
  readonly furthestC: number
  /** 95 % of what two modules' readings differ by in their warming for their sensors' sake, K. */
  readonly apartPlusMinusC: number
  /** Resistance's fall, shares per K. */
  readonly perKelvin: number
}

/** What a module's resistance wanders beside its temperature, share; what a sensor's reading does, K. From memory. */
const RESISTANCE_SPREAD = 0.0015
const SENSOR_SPREAD_C = 0.12
/** Parts of a drive hang together: so many of them count as independent. */
const INDEPENDENT_PARTS = 6
const FALSE_ALARMS = 1 / 300
/** Step of a sensor whose own was not found; common practice, no source. */
const UNKNOWN_STEP_C = 0.5

/**
 * Do the sensors of one module sit in another?
 *
 * All modules of one string carry the same current, so that heat alone tells no module from its neighbour. Two things do:
 *   resistance   a cell's resistance falls by some 2.6 % a kelvin: over the parts of the drive
 *                δR_m(part)/R = c_m − k · (T_m − mean T)(part) + e, c_m free (modules need not be alike), k shared
 *   agreement    sensors of one module move alike: their spread about the module's mean, where it has two or more
 * Each pair of sensors from two modules, and each pair of modules with all their sensors, is tried; the ratio is that of
 * the two likelihoods (normal, spreads at least as wide as the best of all hypotheses leaves).
 * Reads: module temperatures [°C], cell voltages, pack current, `sensors_of_module`.
 * Blind: modules that warmed alike (then a swap changes nothing in this drive); packs without known modules; sensors on
 * busbars, plates or in air. null where nothing can be tried.
 */
export function sensorSwaps(facts: Facts): SensorSwaps | null {
  const scene = sceneOf(facts)
  if (!scene) return null
  const { byResistance, byAgreement, perK, sensorC } = scene
  const stated = fitResistance(scene, scene.celsius)
  const raw = everySwap(scene).map((pairs) => undone(scene, stated.rest, pairs))
  // the spread that the best hypothesis leaves, no less than what healthy readings wander
  const floor = RESISTANCE_SPREAD ** 2 + (perK.mean ** 2 * sensorC ** 2) / scene.perSensor
  const least = Math.min(stated.rest, ...raw.map((each) => each.rest))
  const free = (scene.thermometers.length - 1) * (scene.parts - 1)
  const spread2 = Math.max(floor, least / Math.max(1, free))
  const tried = raw
    .map(({ rest, ...each }): SwapHypothesis => {
      const fromResistance = byResistance ? (stated.rest - rest) / (2 * spread2 * scene.dependence) : 0
      return { ...each, fromResistance, logRatio: fromResistance + each.fromAgreement }
    })
    .sort((x, y) => y.logRatio - x.logRatio)
  const needed = Math.log(Math.max(1, raw.length) / FALSE_ALARMS)
  return {
    tried,
    needed,
    heldAgainst: [
      ...(byResistance ? (['resistance'] as const) : []),
      ...(byAgreement ? (['agreement'] as const) : []),
    ],
    smallestC: smallestTold(scene, needed, spread2),
    furthestC: Math.max(0, ...tried.map((each) => each.statedApartC)),
    apartPlusMinusC: 1.96 * Math.SQRT2 * sensorC,
    perKelvin: stated.perKelvin,
  }
}

/** What the readings are, before any swap: everything as its change about its own mean over the parts of the drive. */
interface Scene {
  /** Parts of the drive in which every sensor read. */
  readonly parts: number
  readonly modules: readonly number[]
  readonly sensorsOf: ReadonlyMap<number, readonly Moved[]>
  /** Mean of each module's sensors, less that of all, K. */
  readonly celsius: ReadonlyMap<number, Float64Array>
  /** Each module's resistance, as a share. */
  readonly ohms: ReadonlyMap<number, Float64Array>
  /** Modules whose cells serve as a thermometer. */
  readonly thermometers: readonly number[]
  readonly byResistance: boolean
  readonly byAgreement: boolean
  /** Sensors that a module usually has. */
  readonly perSensor: number
  /** What a sensor's reading wanders, its steps included, K. */
  readonly sensorC: number
  /** Square of what a sensor moves beside its own module's mean, K². */
  readonly insideC2: number
  /** Parts that count as one witness. */
  readonly dependence: number
  /** Resistance's fall per kelvin that is expected. */
  readonly perK: { readonly mean: number; readonly spread: number }
}

function sceneOf(facts: Facts): Scene | null {
  const grid = facts.once(moduleTemperatures)
  if (!grid || grid.placedFrom === null || grid.modules.length < FEWEST_PEERS) return null
  const resistance = facts.once(moduleResistance)
  const parts = resistance?.parts ?? evenParts(facts)
  const sensors = sensorsByPart(grid, parts)
  const kept = parts.flatMap((_, part) =>
    sensors.every((each) => Number.isFinite(each.celsius[part]!)) ? [part] : [],
  )
  if (kept.length < 2 || sensors.length < FEWEST_PEERS) return null
  const deviation = (values: ArrayLike<number>): Float64Array => {
    const own = picked(values, kept)
    const centre = mean(own)
    return own.map((value) => value - centre)
  }
  const common = Float64Array.from(parts, (_, part) => mean(sensors.map((each) => each.celsius[part]!)))
  const moved = sensors.map((each) => ({
    ...each,
    celsius: deviation(each.celsius.map((value, part) => value - common[part]!)),
  }))
  const modules = [...new Set(moved.map((each) => each.module))]
  const sensorsOf = new Map(modules.map((module) => [module, moved.filter((each) => each.module === module)]))
  const ohms = new Map(
    (resistance?.modules ?? []).map((module, at) => [module, deviation(resistance!.relative[at]!)]),
  )
  const thermometers = modules.filter((module) => ohms.has(module))
  const crowded = modules.map((module) => sensorsOf.get(module)!).filter((own) => own.length > 1)
  const byResistance = thermometers.length >= FEWEST_PEERS
  const byAgreement = crowded.length >= 2
  if (!byResistance && !byAgreement) return null
  const stepC = median(grid.modules.flatMap((module) => module.sensors.map((each) => each.stepC)))
  const sensorC = Math.hypot(
    SENSOR_SPREAD_C,
    (Number.isFinite(stepC) ? stepC : UNKNOWN_STEP_C) / Math.sqrt(12),
  )
  const usualInside = median(crowded.map((own) => inside(own) / ((own.length - 1) * kept.length)))
  return {
    ...{ parts: kept.length, modules, sensorsOf, ohms, thermometers, byResistance, byAgreement, sensorC },
    celsius: new Map(modules.map((module) => [module, meanOf(sensorsOf.get(module)!)])),
    perSensor: median(modules.map((module) => sensorsOf.get(module)!.length)),
    insideC2: Math.max(byAgreement ? usualInside : 0, sensorC ** 2),
    dependence: Math.max(1, kept.length / INDEPENDENT_PARTS),
    perK: expectedFall(facts, mean(common.filter(Number.isFinite))),
  }
}

/** Sensors of one module against as many of another, each pair taken for each other. */
type Pairs = readonly (readonly [Moved, Moved])[]

/** One sensor of each of two modules, and all sensors of two modules that have as many. */
function everySwap({ modules, sensorsOf }: Scene): Pairs[] {
  return modules.flatMap((a, at) =>
    modules.slice(at + 1).flatMap((b): Pairs[] => {
      const [left, right] = [sensorsOf.get(a)!, sensorsOf.get(b)!]
      const single = left.flatMap((one) => right.map((other): Pairs => [[one, other]]))
      const all = left.length === right.length && left.length > 1
      return all ? [...single, left.map((one, k) => [one, right[k]!] as const)] : single
    }),
  )
}

/** What the readings are with the swap undone, against what they are as stated. */
function undone(scene: Scene, statedRest: number, pairs: Pairs): SwapHypothesis & { readonly rest: number } {
  const [a, b] = [pairs[0]![0].module, pairs[0]![1].module]
  const change = (list: readonly Moved[], side: 0 | 1): Moved[] =>
    list.map((each) => pairs.find((pair) => pair[side] === each)?.[side === 0 ? 1 : 0] ?? each)
  const { sensorsOf, celsius, ohms } = scene
  const nowA = change(sensorsOf.get(a)!, 0)
  const nowB = change(sensorsOf.get(b)!, 1)
  const swapped = new Map(celsius).set(a, meanOf(nowA)).set(b, meanOf(nowB))
  const measured = scene.byResistance && ohms.has(a) && ohms.has(b)
  const before = inside(sensorsOf.get(a)!) + inside(sensorsOf.get(b)!)
  const after = inside(nowA) + inside(nowB)
  return {
    modules: [a, b],
    sensors: pairs.map(([one, other]) => [one.number, other.number] as const),
    logRatio: 0,
    fromResistance: 0,
    fromAgreement: scene.byAgreement ? (before - after) / (2 * scene.insideC2 * scene.dependence) : 0,
    apartC: apart(swapped.get(a)!, swapped.get(b)!),
    statedApartC: apart(celsius.get(a)!, celsius.get(b)!),
    rest: measured ? fitResistance(scene, swapped).rest : statedRest,
  }
}

/**
 * Two modules that moved apart by this much would be told in nine of ten drives, K: a gap that grows evenly to D leaves
 * 2 · D² · parts / 12 more squares (times k² in resistance, times half for one sensor of two in its module): ln ratio
 * D² · independent / (12 · spread²).
 */
function smallestTold(
  { byResistance, byAgreement, perK, insideC2 }: Scene,
  needed: number,
  spread2: number,
): number {
  const margin = needed + 1.28 * Math.sqrt(2 * needed)
  const gap = (variance: number): number => Math.sqrt((12 * variance * margin) / INDEPENDENT_PARTS)
  const byHeat = gap(spread2) / perK.mean
  const byPeers = gap(2 * insideC2)
  return byResistance && byAgreement ? Math.max(byHeat, byPeers) : byResistance ? byHeat : byPeers
}

interface Moved {
  readonly number: number
  readonly module: number
  readonly celsius: Float64Array
}

/** Share by which the short-time resistance is expected to fall per kelvin at the pack's temperature, and its spread. */
function expectedFall(facts: Facts, celsius: number): { readonly mean: number; readonly spread: number } {
  const { ohmic } = warmthLaw(facts.vehicle.pack?.chemistry)
  return { mean: fallPerKelvin(ohmic.kelvin, celsius), spread: fallPerKelvin(ohmic.spread, celsius) }
}

/** Resistance against temperature over all modules: one shared slope, with what is expected of it. */
function fitResistance(
  { thermometers, ohms, perK }: Scene,
  celsius: ReadonlyMap<number, Float64Array>,
): { rest: number; perKelvin: number } {
  let tt = 0
  let tx = 0
  let xx = 0
  for (const module of thermometers) {
    const x = ohms.get(module)!
    const t = celsius.get(module)!
    for (let part = 0; part < x.length; part++) {
      tt += t[part]! ** 2
      tx += t[part]! * x[part]!
      xx += x[part]! ** 2
    }
  }
  // as many squares as a spread of a fifth of a percent allows stand against leaving the expected slope
  const weight = 0.002 ** 2 / perK.spread ** 2
  const slope = (-tx + weight * perK.mean) / (tt + weight)
  return {
    perKelvin: slope,
    rest: xx + 2 * slope * tx + slope ** 2 * tt + weight * (slope - perK.mean) ** 2,
  }
}

/** Mean of sensors, a part each. */
const meanOf = (list: readonly Moved[]): Float64Array => meanSeries(list.map(({ celsius }) => celsius))

/** How far sensors move beside their own mean: sum of squares, K². */
function inside(list: readonly Moved[]): number {
  const centre = meanOf(list)
  return list.reduce((sum, each) => sum + squares(each.celsius, centre), 0)
}

/** Range of the difference of two series. */
function apart(first: Float64Array, second: Float64Array): number {
  const gap = first.map((value, part) => value - second[part]!)
  return Math.max(...gap) - Math.min(...gap)
}

function squares(values: Float64Array, centre: Float64Array): number {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += (values[i]! - centre[i]!) ** 2
  return sum
}

/** Mean of every cell sensor in every part, °C; sensors elsewhere than on cells, and frozen ones, are left out. */
function sensorsByPart(
  grid: ModuleTemperatures,
  parts: readonly (readonly [number, number])[],
): { number: number; module: number; celsius: Float64Array }[] {
  return grid.modules.flatMap((module) =>
    module.sensors
      .filter((each) => each.place === 'cell' && !each.frozen_s)
      .map((each) => ({
        number: each.number,
        module: module.index,
        celsius: Float64Array.from(parts, ([from, to]) =>
          mean(each.celsius.filter((_, i) => grid.timeS[i]! >= from && grid.timeS[i]! < to)),
        ),
      })),
  )
}

function evenParts(facts: Facts): [number, number][] {
  const { durationS } = facts.drive
  const count = Math.max(2, Math.min(8, Math.floor(durationS / 120)))
  return Array.from({ length: count }, (_, part) => [
    (part * durationS) / count,
    ((part + 1) * durationS) / count,
  ])
}
