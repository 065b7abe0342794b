import type { ChannelId } from '../../../shared/channels.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { warmthLaw } from '../../car/resistance-warmth.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { mean, meanSeries, median, robustSpread, standardDeviation } from '../../math/stats.ts'
import { studentT } from '../../math/student-t.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { type GroupSeries, groupLaws, type LikelyLaw } from './group-law.ts'
import { type AgainstGroup, againstGroup } from './module-against-group.ts'
import { type ModuleTemperature, type ModuleTemperatures, moduleTemperatures } from './module-temperatures.ts'
import { firstFinite, meanSquareOnGrid } from './one-store.ts'

/** Between off and on. */
const HALF = 0.5

/** How one module warms and is cooled, from the drive. */
export interface ModuleHeat {
  readonly index: number
  /** Cooling group: peers are compared inside it only. */
  readonly group: string
  /** Hottest less first reading, K. */
  readonly riseC: number
  readonly hottestC: number
  /** Warming per squared current at 25 °C, K/(A²·s): R/C, shared by the group; NaN where not told. */
  readonly warming: number
  /** Rth against the median of its peers; null where not told. */
  readonly ratio: number | null
  /** Half of the interval's width. */
  readonly ratioPlusMinus: number | null
  /** 95 % interval of the ratio. */
  readonly low: number
  readonly high: number
  /** How many standard errors ln ρ lies from 0 whatever its size: within each law, the spread of its peers included. */
  readonly sigmas: number
  /** ln of the ratio, and its standard error with the spread of the peers. */
  readonly logRatio: number
  readonly logError: number
  /** Laws that the group speaks for, with this module's own resistance under each: for forecasts. */
  readonly laws: readonly {
    readonly likely: LikelyLaw
    readonly resistance: number
    readonly weight: number
  }[]
  /** Why there is no ratio; null where there is. */
  readonly why: string | null
}

export interface ThermalFit {
  readonly grid: ModuleTemperatures
  readonly squaredA2: Float64Array
  readonly coolantC: Float64Array | null
  readonly modules: readonly ModuleHeat[]
  /** The vehicle file names the cooling groups, or they were taken from how the modules part, or all are one. */
  readonly groupsFrom: 'vehicle file' | 'how the modules part' | null
}

/**
 * A module's own residual is mostly what the law leaves out, so it counts half for choosing among laws.
 * Set by study:cooling (14 drives a line, one and two stores), 2026-11-27; not held on the second simulator.
 */
const OWN_EVIDENCE = 0.5
/** What none of the tried laws holds, as a share of ln ρ. study:cooling as above, 2026-11-27. */
const UNTRIED = 0.1
/** Points that the fits use: heat moves over minutes. */
const FIT_POINTS = 200
/** The group's misfit and rise leave nothing told beyond this standard error of ln ρ. */
const TOLD = 0.4
/** Two or more modules that stand apart from the others by this share, and by twice their own range, are a group. */
const APART = Math.log(1.25)

/**
 * Thermal resistance of each module against its cooling group.
 *
 * Model: `heat-law.ts` (one store and two stores, heat that falls with warmth): the group's mean says which laws are
 * likely and what they share, and each module is judged by its difference from that mean (`module-against-group.ts`).
 * ln ρ is the mean over the laws by their weight; what the laws disagree by, what each leaves open, and the robust spread
 * of the group's other members (Student's t for their number) make the interval.
 * Reads: module temperatures [°C], pack current [A], coolant in and out [°C], coolant pump.
 * Biased by: where the coolant's order is not known, a module far down it reads as worse cooled (in the peers' spread);
 * a module with more resistance than its peers by over a percent or two reads as worse cooled.
 * Blind: under five sensor steps of rise; under two peers in the group; all modules of a group alike.
 * Source: lumped-capacity heat balance, any heat-transfer textbook.
 */
export function thermalFit(facts: Facts): ThermalFit | null {
  const grid = facts.once(moduleTemperatures)
  const current = facts.once(packCurrent)
  if (!grid || !current) return null
  const squaredA2 = meanSquareOnGrid(current.timeS, current.amperes, grid.timeS, grid.stepS)
  const inlet = channelOnGrid(facts, 'coolant_in', grid.timeS)
  const outlet = channelOnGrid(facts, 'coolant_out', grid.timeS)
  const coolantC = inlet && outlet ? inlet.map((low, i) => (low + outlet[i]!) / 2) : (inlet ?? outlet)
  const order = facts.vehicle.pack?.cooling_order ?? []
  const stated = facts.vehicle.pack?.cooling_group_of_module
  const every = Math.max(1, Math.floor(grid.timeS.length / FIT_POINTS))
  const all = grid.modules.map((module): Candidate => {
    const step = Math.max(0, ...module.sensors.map(({ stepC }) => (Number.isFinite(stepC) ? stepC : 0)))
    const hottestC = Math.max(...Array.from(module.celsius).filter(Number.isFinite))
    const riseC = hottestC - firstFinite(module.celsius)
    return {
      module,
      group: stated?.[module.index - 1] ?? 'all modules',
      step,
      hottestC,
      riseC,
      celsius: coarse(module.celsius, every),
      filledC: filled(coarse(module.celsius, every)),
      coolantC: localCoolant(order, module.index, inlet, outlet, coolantC, every),
    }
  })
  const shared = {
    stepS: grid.stepS * every,
    squaredA2: coarse(squaredA2, every),
    magnitudeA: coarse(meanMagnitude(current.timeS, current.amperes, grid), every),
    pumping: pumpOnGrid(facts, grid.timeS, every),
    warmth: warmthLaw(facts.vehicle.pack?.chemistry),
  }
  const judge = (candidates: readonly Candidate[]): ModuleHeat[] => {
    const groups = [...new Set(candidates.map((each) => each.group))]
    const judged = groups.flatMap((group) =>
      judgeGroup(
        candidates.filter((each) => each.group === group),
        shared,
      ),
    )
    return candidates.map((each) => judged.find((one) => one.index === each.module.index)!)
  }
  const first = judge(all)
  const parted = stated ? null : partedGroups(first)
  const modules = parted
    ? judge(all.map((each) => ({ ...each, group: parted.get(each.module.index) ?? each.group })))
    : first
  const groupsFrom = stated ? 'vehicle file' : parted ? 'how the modules part' : null
  return { grid, squaredA2, coolantC, modules, groupsFrom }
}

interface Candidate {
  readonly module: ModuleTemperature
  readonly group: string
  readonly step: number
  readonly riseC: number
  readonly hottestC: number
  /** On the fit's grid: NaN where not read, and without holes. */
  readonly celsius: Float64Array
  readonly filledC: Float64Array | null
  readonly coolantC: Float64Array | null
}

interface Shared extends Omit<GroupSeries, 'celsius' | 'coolantC'> {
  readonly warmth: Parameters<typeof groupLaws>[1]
}

function judgeGroup(members: readonly Candidate[], shared: Shared): ModuleHeat[] {
  const none = (each: Candidate, why: string): ModuleHeat => ({
    index: each.module.index,
    group: each.group,
    riseC: each.riseC,
    hottestC: each.hottestC,
    warming: Number.NaN,
    ratio: null,
    ratioPlusMinus: null,
    low: Number.NaN,
    high: Number.NaN,
    sigmas: Number.NaN,
    logRatio: Number.NaN,
    logError: Number.NaN,
    laws: [],
    why,
  })
  const fit = members.filter(({ filledC, riseC, step }) => filledC && riseC > 0 && riseC >= 5 * step)
  const short = (each: Candidate): string =>
    each.filledC && Number.isFinite(each.riseC)
      ? `it warmed by ${each.riseC.toFixed(1)} K, under five steps of its sensors (${each.step} K)`
      : 'its sensors gave nothing believable'
  if (fit.length < FEWEST_PEERS)
    return members.map((each) =>
      none(each, fit.includes(each) ? 'fewer than three modules share its kind of cooling' : short(each)),
    )
  const usual = usualOf(fit)
  const series: GroupSeries = {
    ...shared,
    celsius: meanSeries(usual.map((each) => each.filledC!)),
    coolantC: usual.every((each) => each.coolantC) ? meanSeries(usual.map((each) => each.coolantC!)) : null,
  }
  const laws = groupLaws(series, shared.warmth)
  const against = fit.map((each) =>
    againstGroup(series, { celsius: each.celsius, filledC: each.filledC!, coolantC: each.coolantC }, laws),
  )
  const figures = fit.map((_, at) => figureOf(laws, against, at))
  return members.map((each) => {
    const at = fit.indexOf(each)
    if (at < 0) return none(each, short(each))
    const own = figures[at]!
    const rivals = figures.filter((other) => other !== own).map((other) => other.logRatio)
    const peers = peersSpread(rivals)
    const logError = Math.hypot(own.error, peers)
    if (!(logError < TOLD))
      return none(each, 'the drive was too short or too even to tell cooling from warming')
    const half = Math.hypot(1.96 * own.error, studentT(0.975, rivals.length - 1) * peers)
    const ratio = Math.exp(own.logRatio)
    return {
      ...none(each, ''),
      warming: own.laws.reduce((sum, { likely, weight }) => sum + weight * likely.warming, 0),
      ratio,
      ratioPlusMinus: ratio * Math.sinh(half),
      low: Math.exp(own.logRatio - half),
      high: Math.exp(own.logRatio + half),
      sigmas: own.sigmas,
      logRatio: own.logRatio,
      logError,
      laws: own.laws,
      why: null,
    }
  })
}

/** What healthy peers leave open of one module: their robust spread, and their median's. */
function peersSpread(logRatios: readonly number[]): number {
  const spread = Math.max(robustSpread(logRatios), standardDeviation(logRatios) / 2)
  return spread * Math.sqrt(1 + 1.57 / logRatios.length)
}

/** Mean of ln ρ over the laws, against the median of the others' under the same law. */
function figureOf(
  laws: readonly LikelyLaw[],
  against: readonly AgainstGroup[],
  at: number,
): { logRatio: number; error: number; sigmas: number; laws: ModuleHeat['laws'] } {
  const own = against[at]!
  const told = laws.flatMap((likely, law) => {
    const others = against
      .filter((other) => other !== own)
      .map((other) => other.logRatio[law]!)
      .filter(Number.isFinite)
    const logRatio = own.logRatio[law]! - median(others)
    const error = own.error[law]!
    const logWeight = likely.logWeight + OWN_EVIDENCE * own.logWeight[law]!
    const sigmas = logRatio / Math.hypot(error, peersSpread(others))
    return Number.isFinite(logRatio + logWeight)
      ? [{ likely, logRatio, error, sigmas, logWeight, resistance: Math.exp(own.logRatio[law]!) }]
      : []
  })
  const most = Math.max(...told.map((each) => each.logWeight))
  const raw = told.map((each) => Math.exp(each.logWeight - most))
  const sum = raw.reduce((total, each) => total + each, 0)
  const over = (of: (each: (typeof told)[number]) => number): number =>
    told.reduce((total, each, i) => total + (raw[i]! / sum) * of(each), 0)
  const logRatio = over((each) => each.logRatio)
  return {
    logRatio,
    error: Math.hypot(
      Math.sqrt(over((each) => each.error ** 2 + (each.logRatio - logRatio) ** 2)),
      UNTRIED * logRatio,
    ),
    sigmas: over((each) => each.sigmas),
    laws: told.map((each, i) => ({ ...each, weight: raw[i]! / sum })),
  }
}

/** Modules that went with the middle of their group: what stands apart teaches the group nothing. */
function usualOf(members: readonly Candidate[]): Candidate[] {
  const n = members[0]!.filledC!.length
  const middle = Float64Array.from({ length: n }, (_, i) => median(members.map((each) => each.filledC![i]!)))
  const late = Math.floor(n / 3)
  const away = members.map((each) =>
    mean(each.filledC!.subarray(late).map((value, i) => value - middle[late + i]!)),
  )
  const spread = robustSpread(away)
  const centre = median(away)
  const kept = members.filter((_, at) => Math.abs(away[at]! - centre) <= Math.max(0.5, 2.5 * spread))
  return kept.length >= 2 ? kept : [...members]
}

/** Groups that the modules part into without being named: two or more that stand alike, apart from all others. */
function partedGroups(modules: readonly ModuleHeat[]): Map<number, string> | null {
  const told = modules.filter((each) => each.ratio !== null).sort((a, b) => a.logRatio - b.logRatio)
  let cut = 0
  let widest = 0
  for (let i = 1; i < told.length; i++) {
    const gap = told[i]!.logRatio - told[i - 1]!.logRatio
    if (gap > widest) [widest, cut] = [gap, i]
  }
  const range = (part: readonly ModuleHeat[]): number => part[part.length - 1]!.logRatio - part[0]!.logRatio
  if (widest < APART || cut < 2 || told.length - cut < 2) return null
  if (range(told.slice(cut)) > widest / 2 || range(told.slice(0, cut)) > widest / 2) return null
  return new Map(
    told.map((each, at) => [each.index, at < cut ? 'better cooled modules' : 'worse cooled modules']),
  )
}

/** Mean of |I| between grid points, A. */
function meanMagnitude(
  timeS: Float64Array,
  amperes: Float64Array,
  grid: Pick<ModuleTemperatures, 'timeS' | 'stepS'>,
): Float64Array {
  const roots = amperes.map((value) => Math.sqrt(Math.abs(value)))
  return meanSquareOnGrid(timeS, roots, grid.timeS, grid.stepS)
}

/** Means over so many points each, of what is finite. */
function coarse(values: Float64Array, every: number): Float64Array {
  if (every === 1) return values
  return Float64Array.from({ length: Math.floor(values.length / every) }, (_, i) =>
    mean(values.subarray(i * every, (i + 1) * every)),
  )
}

/** Holes bridged by the reading before them; null where there is none at all. */
function filled(celsius: Float64Array): Float64Array | null {
  let last = firstFinite(celsius)
  if (!Number.isFinite(last)) return null
  return celsius.map((value) => (last = Number.isFinite(value) ? value : last))
}

/** 1 where the coolant pump runs; null where it is not logged, or stood for most of the log (then it is another pump). */
function pumpOnGrid(facts: Facts, timeS: Float64Array, every: number): Uint8Array | null {
  const pump = facts.drive.channels.get('coolant_pump')
  if (!pump || pump.polarity === null) return null
  const on = coarse(linearAt(pump, timeS, 120), every)
  const running = Uint8Array.from(on, (value) => (value < HALF ? 0 : 1))
  return mean(running) > HALF ? running : null
}

function channelOnGrid(facts: Facts, id: ChannelId, grid: Float64Array): Float64Array | null {
  const channel = facts.drive.channels.get(id)
  if (!channel) return null
  const on = linearAt(channel, grid, 120)
  let last = firstFinite(on)
  if (!Number.isFinite(last)) return null
  return on.map((value) => (last = Number.isFinite(value) ? value : last))
}

/** Coolant at the module: between inlet and outlet by its place in the coolant's order, else their mean. */
function localCoolant(
  order: readonly (readonly number[])[],
  module: number,
  inlet: Float64Array | null,
  outlet: Float64Array | null,
  middle: Float64Array | null,
  every: number,
): Float64Array | null {
  const line = order.find((modules) => modules.includes(module))
  if (!line || !inlet || !outlet) return middle && coarse(middle, every)
  const share = (line.indexOf(module) + 0.5) / line.length
  return coarse(
    inlet.map((low, i) => low + share * (outlet[i]! - low)),
    every,
  )
}
