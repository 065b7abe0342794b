import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { picked } from '../../math/picked.ts'
import { mean, median } from '../../math/stats.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'
import { moduleTemperatures } from './module-temperatures.ts'

/** Over less, a module hardly warms; no source. */
const SHORTEST_S = 300
/** Fewer rows at rest give no offset between two sensors; no source. */
const FEWEST_AT_REST = 5

/** What the coolant's balance is judged from, on one even grid while the car works. */
export interface CoolantSeries {
  readonly stepS: number
  /** Moments kept, s: current flows and, where it is logged, the pump runs. */
  readonly timeS: Float64Array
  /** Outlet less inlet, less what both sensors differed by while the car still rested, K. */
  readonly warmedC: Float64Array
  readonly inletC: Float64Array
  /** Mean of the modules above the inlet, K; null without module temperatures. */
  readonly aboveC: Float64Array | null
  /** The pack's resistance from this drive's sag, Ω. */
  readonly ohm: number
  /** Heat made in the cells, W. */
  readonly cellW: Float64Array
  /** Electrical power, magnitude, W: inverter and motor turn a share of it into heat. */
  readonly powerW: Float64Array
  /** 95 %: what the two sensors may still differ by, K. */
  readonly offsetC: number
  /** Modules' mean at the end less at the start of the kept part, K. */
  readonly moduleRiseC: number
  readonly pumpLogged: boolean
}

/** A current under this is a car at rest, A. */
const AT_REST_A = 5
/** Two sensors, each a degree off at the worst; a rest at the start shows most of it. Common practice, no source. */
const SENSOR_PAIR_C = 0.3
/** Coolant sensors that differ by more at rest stand in different places: nothing is taken out. */
const MOST_OFFSET_C = 2

/** A pump with so little duty stands, %. Common practice, no source. */
const STANDS_PERCENT = 5

/** 0 where the pump stands by its switch or duty; null where neither is logged. */
function turningAt({ drive: { channels } }: Facts, atS: Float64Array): Float64Array | null {
  const pump = channels.get('coolant_pump')
  if (pump && pump.polarity !== null) return heldAt(pump, atS)
  const duty = channels.get('pump_duty')
  return duty ? heldAt(duty, atS).map((each) => (each < STANDS_PERCENT ? 0 : 1)) : null
}

/** null where coolant in and out, current and voltage are not all logged or never overlap for five minutes. */
export function coolantSeries(facts: Facts): CoolantSeries | null {
  const { channels, durationS } = facts.drive
  const inlet = channels.get('coolant_in')
  const outlet = channels.get('coolant_out')
  const voltage = channels.get('pack_voltage')
  const current = facts.once(packCurrent)
  if (!inlet || !outlet || !voltage || !current) return null
  const stepS = Math.max(2, durationS / 2000)
  const all = Float64Array.from({ length: Math.floor(durationS / stepS) }, (_, i) => (i + 0.5) * stepS)
  const amperes = linearAt({ timeS: current.timeS, values: current.amperes }, all, 10)
  const volts = linearAt(voltage, all, 10)
  const low = linearAt(inlet, all, 60)
  const high = linearAt(outlet, all, 60)
  const turning = turningAt(facts, all)
  const known: number[] = []
  for (let i = 0; i < all.length; i++)
    if (Number.isFinite(amperes[i]! + volts[i]! + low[i]! + high[i]!)) known.push(i)
  const loaded = known.filter((i) => Math.abs(amperes[i]!) > AT_REST_A)
  const [from, to] = [loaded[0] ?? 0, loaded[loaded.length - 1] ?? -1]
  const kept = known.filter((i) => i >= from && i <= to && !(turning && turning[i] === 0))
  if (kept.length * stepS < SHORTEST_S) return null
  const line = leastSquares(
    [kept.map(() => 1), kept.map((i) => -amperes[i]!), kept.map((i) => all[i]!)],
    kept.map((i) => volts[i]!),
  )
  const ohm = line?.coefficients[1] ?? Number.NaN
  if (!(ohm > 0)) return null
  // before the load, and in its first half minute, nothing has warmed yet
  const rested = known.filter((i) => all[i]! < all[from]! + 30)
  const difference = (i: number): number => high[i]! - low[i]!
  const rest = rested.length >= FEWEST_AT_REST ? median(rested.map(difference)) : Number.NaN
  const offset = Math.abs(rest) < MOST_OFFSET_C ? rest : 0
  const grid = facts.once(moduleTemperatures)
  const pick = (series: Float64Array): Float64Array => picked(series, kept)
  const timeS = pick(all)
  const modules = grid
    ? grid.modules.map((module) => linearAt({ timeS: grid.timeS, values: module.celsius }, timeS))
    : []
  const warmth = timeS.map((_, i) => mean(modules.map((celsius) => celsius[i]!)))
  const finite = warmth.every(Number.isFinite)
  const tenth = Math.max(3, Math.floor(kept.length / 20))
  return {
    stepS,
    timeS,
    warmedC: Float64Array.from(kept, (i) => difference(i) - offset),
    inletC: pick(low),
    aboveC: finite && modules.length > 0 ? warmth.map((celsius, i) => celsius - low[kept[i]!]!) : null,
    ohm,
    cellW: Float64Array.from(kept, (i) => ohm * amperes[i]! ** 2),
    powerW: Float64Array.from(kept, (i) => Math.abs(amperes[i]! * volts[i]!)),
    offsetC:
      1.96 *
      Math.hypot(
        Math.max(inlet.step, outlet.step, 0.1) / 2,
        offset === rest ? SENSOR_PAIR_C / 2 : SENSOR_PAIR_C,
      ),
    moduleRiseC: finite ? mean(warmth.subarray(-tenth)) - mean(warmth.subarray(0, tenth)) : Number.NaN,
    pumpLogged: turning !== null,
  }
}
