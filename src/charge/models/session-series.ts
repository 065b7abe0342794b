import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Span } from '../../../shared/units.ts'
import { cableAmperes, pilotAmperes } from '../../car/charge-pilot.ts'
import { type PackCurrent, packCurrent } from '../../car/pack-current.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { heldAt, linearAt, type Samples, samplePeriod } from '../../samples/on-one-clock.ts'

/** Points a session is read at, at most; a night at 1 s is 30 000. */
const MOST_POINTS = 40_000
/** What the car's own 12 V converter may take of a charger whose current is not logged, A. Common practice, no source. */
const UNSEEN_A = 1.5
/** A value this many of its own periods old, at least so many s, says nothing. */
const STALE_PERIODS = 5
const STALE_S = 10

/** One session's channels on one grid: A and W into the pack are positive here. NaN where a channel says nothing. */
export interface SessionSeries {
  readonly span: Span
  readonly timeS: Float64Array
  readonly stepS: number
  /** Into the pack, and out of the charger, A. `delivered` is the charger's where logged, else the pack's. */
  readonly packA: Float64Array
  readonly chargerA: Float64Array
  readonly delivered: Float64Array
  readonly deliveredFrom: ChannelId
  /** What of the charger's current may not show in `delivered`, A. */
  readonly unseenA: number
  readonly volts: Float64Array
  readonly chargerV: Float64Array
  readonly requestA: Float64Array
  readonly requestV: Float64Array
  readonly mainsV: Float64Array
  readonly mainsA: Float64Array
  /** What pilot and cable allow, A a phase. */
  readonly pilotA: Float64Array
  readonly cableA: Float64Array
  readonly highest: Float64Array
  readonly hottest: Float64Array
  readonly coldest: Float64Array
  readonly chargerC: Float64Array
  readonly soc: Float64Array
  readonly current: PackCurrent | null
}

/** Null where nothing tells how much flows. */
export function sessionSeries(facts: Facts, span: Span): SessionSeries | null {
  const { channels } = facts.drive
  const current = facts.once(packCurrent)
  const charger = channels.get('charger_current')
  const pack = current && current.sign !== 'unproved' ? current : null
  if (!pack && !charger) return null
  const main: Samples = charger ?? { timeS: pack!.timeS, values: pack!.amperes }
  const stepS = Math.max(0.5, samplePeriod(main.timeS) || 1, (span[1] - span[0]) / MOST_POINTS)
  const n = Math.max(2, Math.ceil((span[1] - span[0]) / stepS))
  const timeS = Float64Array.from({ length: n }, (_, i) => span[0] + i * stepS)
  const none = new Float64Array(n).fill(Number.NaN)
  const age = (samples: Samples): number => Math.max(STALE_S, STALE_PERIODS * samplePeriod(samples.timeS))
  const held = (id: ChannelId): Float64Array => {
    const channel = channels.get(id)
    return channel ? heldAt(channel, timeS, Math.max(60, age(channel))) : none
  }
  const smooth = (samples: Samples | undefined): Float64Array =>
    samples ? linearAt(samples, timeS, age(samples)) : none
  const read = (id: ChannelId): Float64Array => smooth(freshOf(channels.get(id)))
  const packA = pack ? smooth({ timeS: pack.timeS, values: pack.amperes }).map((a) => -a) : none
  const chargerA = held('charger_current').map(Math.abs)
  const sensors = family(facts, 'module_temperature').map(({ channel }) => smooth(freshOf(channel)))
  const cells = family(facts, 'cell_voltage').map(({ channel }) => smooth(freshOf(channel)))
  const most = (series: readonly Float64Array[], id: ChannelId, sign: 1 | -1): Float64Array =>
    channels.has(id) && series.length === 0 ? read(id) : extreme(series, n, sign)
  const cable = channels.get('proximity_resistance')
  return {
    span,
    timeS,
    stepS,
    packA,
    chargerA,
    delivered: charger ? chargerA : packA,
    deliveredFrom: charger ? 'charger_current' : 'pack_current',
    unseenA: charger ? 0 : UNSEEN_A,
    volts: channels.has('pack_voltage') ? read('pack_voltage') : sumOf(cells, facts.vehicle.pack?.cells, n),
    chargerV: read('charger_voltage'),
    requestA: held('charge_current_request').map(Math.abs),
    requestV: held('charge_voltage_request'),
    mainsV: read('mains_voltage'),
    mainsA: read('mains_current').map(Math.abs),
    pilotA: held('pilot_duty').map(pilotAmperes),
    cableA: cable ? held('proximity_resistance').map(cableAmperes) : none,
    highest: most(cells, 'highest_cell_voltage', 1),
    hottest: most(sensors, 'hottest_temperature', 1),
    coldest: most(sensors, 'coldest_temperature', -1),
    chargerC: read('charger_temperature'),
    soc: held('soc'),
    current: pack,
  }
}

const freshOf = (channel: Channel | undefined): Samples | undefined => channel && freshSamples(channel)

/** Highest (sign 1) or lowest of several series at each moment. */
function extreme(series: readonly Float64Array[], n: number, sign: 1 | -1): Float64Array {
  return Float64Array.from({ length: n }, (_, i) => {
    let most = Number.NaN
    for (const each of series) {
      const value = each[i]!
      if (Number.isFinite(value) && !(value * sign <= most * sign)) most = value
    }
    return most
  })
}

function sumOf(cells: readonly Float64Array[], wanted: number | undefined, n: number): Float64Array {
  if (cells.length === 0) return new Float64Array(n).fill(Number.NaN)
  const share = (wanted ?? cells.length) / cells.length
  return Float64Array.from({ length: n }, (_, i) => share * cells.reduce((sum, cell) => sum + cell[i]!, 0))
}

/** Median of the finite values where `where` holds; NaN where there are none. */
export const medianWhere = (values: Float64Array, where: (i: number) => boolean): number =>
  median(values.filter((value, i) => Number.isFinite(value) && where(i)))
