import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { family } from '../../facts/facts.ts'
import { biweightSpread } from '../../math/biweight.ts'
import { mean, median } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { type ModuleTemperatures, moduleTemperatures, type Sensor } from './module-temperatures.ts'
import { meanSquareOnGrid } from './one-store.ts'

/** A line through fewer readings leaves nothing over. */
const FEWEST_FOR_LINE = 3
/** Fewer cells show no module's beside its peers'; no source. */
const FEWEST_CELLS = 4

/** Sensors that rise by themselves while hardly any current flows. */
export interface SelfWarming {
  readonly module: number
  readonly sensors: readonly number[]
  /** A cell of the module that fell meanwhile, where one sensor only rose; else null. */
  readonly fallingCell: number | null
  readonly span_s: Span
  /** K/min over the span, and the half width of its 95 % interval. */
  readonly kelvinMin: number
  readonly plusMinus: number
  /** What the rest of its cooling group did meanwhile, K/min. */
  readonly groupKelvinMin: number
  /** The log ends while it still rises. */
  readonly toTheEnd: boolean
}

/** A sensor that rises by itself without a second witness. */
export interface LoneRise {
  readonly sensor: number
  readonly kelvinMin: number
}

export interface Rests {
  /** Seconds in stretches of three minutes and more under a twentieth of the capacity in current. */
  readonly seconds: number
  readonly limitA: number
  readonly found: readonly SelfWarming[]
  /** The fastest sensor that rises as a module that warms by itself would, and nothing bears it out; else null. */
  readonly alone: LoneRise | null
}

/** So long a rise counts (contract), s. */
const WINDOW_S = 180
/** Where no capacity is known, current under this is rest, A. Common practice, no source. */
const REST_A = 2
/** Its group rises alike where it rises by over this share of it. Common practice, no source. */
const ALIKE = 0.5
/** Two sensors pass the limit together; each by itself at least this share of it. Common practice, no source. */
const EACH = 0.8
/** A rise that dies away: its later half slower than its earlier one by this share. Common practice, no source. */
const DIES_AWAY = 0.6
/** A cell falls where it leaves its peers by this in the window, V, and by so many of their spreads. No source. */
const FALLS_V = 0.004
const FALLS_SPREADS = 6

/**
 * Which modules warm by themselves.
 *
 * Model: over every three minutes in which the current stays under a twentieth of the capacity, a sensor's slope by least
 *        squares, over the whole and over its later half; heat that soaks out of the cells after a hard drive dies away,
 *        and a heater, a charger or the sun warm a group alike.
 * Reads: module temperatures [°C], pack current [A], cell voltages [V].
 * Gives: the modules with two such sensors, or one and a cell that falls beside its peers. null without temperature or
 *        current.
 * Blind: places without a sensor; a whole group that warms alike.
 */
export function selfWarming(facts: Facts): Rests | null {
  const grid = facts.once(moduleTemperatures)
  const current = facts.once(packCurrent)
  if (!grid || !current) return null
  const capacityAh = facts.vehicle.pack?.capacity_ah
  const limitA = capacityAh ? capacityAh / 20 : REST_A
  const squared = meanSquareOnGrid(current.timeS, current.amperes, grid.timeS, grid.stepS)
  const quiet = squared.map((value) => (value < limitA ** 2 ? 1 : 0))
  const long = Math.max(6, Math.ceil(WINDOW_S / grid.stepS))
  const bar = facts.limits.selfHeating.stop ?? 1
  const found = new Map<number, SelfWarming>()
  let lone: LoneRise | null = null
  let seconds = 0
  for (let from = 0; from < quiet.length; ) {
    let to = from
    while (to < quiet.length && quiet[to] === 1) to++
    if (to - from >= long) {
      seconds += (to - from) * grid.stepS
      const rest = inRest(facts, { grid, from, to, long, bar })
      for (const each of rest.found)
        if (each.kelvinMin > (found.get(each.module)?.kelvinMin ?? 0)) found.set(each.module, each)
      for (const each of rest.alone) if (each.kelvinMin > (lone?.kelvinMin ?? 0)) lone = each
    }
    from = Math.max(to, from + 1)
  }
  return { seconds, limitA, found: [...found.values()], alone: found.size > 0 ? null : lone }
}

/** A sensor, the module it sits in and that module's cooling group. */
interface Placed {
  readonly sensor: Sensor
  readonly home: number
  readonly group: string
  /** K/min over the window that begins at each place of the rest. */
  readonly slopes: Float64Array
  /** Does it rise in that window, and go on rising in its second half? */
  readonly rises: Float64Array
}

/** Places [from, to) of the grid without current, windows of `long`, and what counts as warming, K/min. */
interface Rest {
  readonly grid: ModuleTemperatures
  readonly from: number
  readonly to: number
  readonly long: number
  readonly bar: number
}

function inRest(facts: Facts, rest: Rest): { found: SelfWarming[]; alone: LoneRise[] } {
  const { grid } = rest
  const placed = grid.modules.flatMap((module) =>
    module.sensors.map((sensor): Placed => {
      const group = facts.vehicle.pack?.cooling_group_of_module?.[module.index - 1] ?? 'all modules'
      return { sensor, home: module.index, group, ...overWindows(sensor, rest) }
    }),
  )
  const modules = grid.placedFrom === null ? [null] : grid.modules.map((module) => module.index)
  const alone: LoneRise[] = []
  const found = modules.flatMap((module): SelfWarming[] => {
    const { best, lone } = longestRise(facts, rest, placed, module)
    alone.push(...lone)
    return best ? [toldOf(rest, placed, module, best)] : []
  })
  return { found, alone }
}

function overWindows(sensor: Sensor, { grid, from, to, long, bar }: Rest): Pick<Placed, 'slopes' | 'rises'> {
  const slopes = Float64Array.from({ length: to - from - long + 1 }, (_, i) =>
    slope(sensor.celsius, from + i, from + i + long, grid.stepS),
  )
  const rises = slopes.map((value, i) => {
    const start = from + i
    const middle = start + Math.floor(long / 2)
    const later = slope(sensor.celsius, middle, start + long, grid.stepS)
    const earlier = slope(sensor.celsius, start, middle, grid.stepS)
    return value > EACH * bar && later > DIES_AWAY * Math.max(bar, earlier) ? 1 : 0
  })
  return { slopes, rises }
}

interface Rise {
  /** Place of the last window in a row that counts, and how many those are. */
  readonly i: number
  readonly length: number
  readonly rising: readonly Placed[]
  readonly cell: number | null
}

/**
 * The most windows in a row in which a module (null: the pack, places unknown) warms and its group does not; and lone sensors
 * that do.
 */
function longestRise(
  facts: Facts,
  { grid, from, to, long, bar }: Rest,
  placed: readonly Placed[],
  module: number | null,
): { best: Rise | null; lone: LoneRise[] } {
  const lone: LoneRise[] = []
  const own = placed.filter((each) => module === null || each.home === module)
  let best: Rise | null = null
  let run = 0
  for (let i = 0; i <= to - from - long; i++) {
    const rising = own.filter((each) => each.rises[i] === 1)
    const hot = rising[0]
    const others = placed
      .filter((each) => (module === null ? !rising.includes(each) : each.home !== module))
      .filter((each) => hot === undefined || each.group === hot.group)
    const group = others.length > 0 ? median(others.map((each) => each.slopes[i]!)) : 0
    const alone = rising.length > 0 && !(group > ALIKE * median(rising.map((each) => each.slopes[i]!)))
    const cell =
      alone && rising.length === 1
        ? fallingCell(facts, module, grid.timeS[from + i]!, grid.timeS[from + i + long - 1]!)
        : null
    const fast = mean(rising.map((each) => each.slopes[i]!)) > bar
    const counts = alone && fast && (rising.length >= 2 || cell !== null)
    if (alone && fast && !counts) lone.push({ sensor: hot!.sensor.number, kelvinMin: hot!.slopes[i]! })
    run = counts ? run + 1 : 0
    if (counts && run > (best?.length ?? 0)) best = { i, length: run, rising, cell }
  }
  return { best, lone }
}

function toldOf(
  { grid, from, long }: Rest,
  placed: readonly Placed[],
  module: number | null,
  best: Rise,
): SelfWarming {
  const first = best.rising[0]!
  const start = from + best.i - best.length + 1
  const end = from + best.i + long
  const slopeOf = ({ sensor }: Placed): number => slope(sensor.celsius, start, end, grid.stepS)
  const each = best.rising.map(slopeOf)
  const others = placed.filter(
    (other) => !best.rising.includes(other) && other.home !== module && other.group === first.group,
  )
  const minutes = ((end - start) * grid.stepS) / 60
  const apart = Math.max(...each) - Math.min(...each)
  return {
    module: first.home,
    sensors: best.rising.map(({ sensor }) => sensor.number),
    fallingCell: best.cell,
    span_s: [grid.timeS[start]!, grid.timeS[Math.min(end, grid.timeS.length) - 1]!],
    kelvinMin: mean(each),
    plusMinus: Math.max(apart / 2, stepOf(first.sensor) / minutes),
    groupKelvinMin: others.length > 0 ? median(others.map(slopeOf)) : Number.NaN,
    toTheEnd: end >= grid.timeS.length - 2,
  }
}

const stepOf = (sensor: Sensor): number => (Number.isFinite(sensor.stepC) ? sensor.stepC : 0.5)

/** Least-squares slope over [from, to), K/min; NaN where over a tenth of it was not read. */
function slope(celsius: Float64Array, from: number, to: number, stepS: number): number {
  let n = 0
  let sx = 0
  let sy = 0
  let sxx = 0
  let sxy = 0
  for (let i = from; i < to; i++) {
    const y = celsius[i]!
    if (!Number.isFinite(y)) continue
    const x = i - from
    n++
    sx += x
    sy += y
    sxx += x * x
    sxy += x * y
  }
  if (n < FEWEST_FOR_LINE || n < 0.9 * (to - from)) return Number.NaN
  return (((n * sxy - sx * sy) / (n * sxx - sx * sx)) * 60) / stepS
}

/**
 * A cell that left the pack's median downwards between two moments: of the module, or of the whole pack where nothing says
 * which module the sensor sits in. null where none did.
 */
function fallingCell(facts: Facts, module: number | null, fromS: number, toS: number): number | null {
  const starts = facts.layout.known ? facts.layout.moduleStarts : null
  const cells = family(facts, 'cell_voltage')
  if ((module !== null && !starts) || cells.length < FEWEST_CELLS) return null
  const around = (channel: (typeof cells)[number]['channel'], atS: number): number =>
    mean(
      linearAt(
        channel,
        Float64Array.from({ length: 9 }, (_, i) => atS + (i - 4) * 2),
      ),
    )
  const moved = cells.map(({ channel }) => around(channel, toS - 10) - around(channel, fromS + 10))
  const readable = moved.filter(Number.isFinite)
  const middle = median(readable)
  let most = Math.max(FALLS_V, FALLS_SPREADS * biweightSpread(readable))
  let cell: number | null = null
  cells.forEach(({ number }, at) => {
    const inside =
      module === null ||
      (number - 1 >= starts![module - 1]! && number - 1 < (starts![module] ?? Number.POSITIVE_INFINITY))
    const fell = middle - moved[at]!
    if (inside && fell > most) [most, cell] = [fell, number]
  })
  return cell
}
