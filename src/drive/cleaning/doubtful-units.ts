import type { UnitDoubt } from '../../../shared/drive.ts'
import type { RawSeries } from '../../../shared/raw-log.ts'
import { quantile } from '../../math/stats.ts'
import { type Named, nameSeries } from '../../naming/name-series.ts'
import type { Cleaned } from './clean-channel.ts'

/** A 12 V to 48 V system written a thousand or ten times too small reads between these; no source. */
const SLIP_LOW_V = 0.02
/** See above. */
const SLIP_HIGH_V = 1.2

/** Only these are mixed up by a thousand: a unit's letter m is lost or put too much. */
const SLIPS = /^m?[AV]$/
const SLIP_ID = /^(pack|link|box|lv|charger|cell|lowest_cell|highest_cell|mean_cell)_voltage|_current(\.|$)/
const FACTORS = [1000, 1 / 1000] as const
const MOST_TRIED = 6

/**
 * Columns that have no name because their values do not fit their stated unit, but would have one were the values a
 * thousandth or a thousandfold: `Pack current [A]` that reads 120 000. They stay without a name; the doubt is told.
 */
export function slippedColumns(
  all: readonly RawSeries[],
  named: readonly Named[],
  file: string,
): UnitDoubt[] {
  const taken = new Set(named.map(({ id }) => id))
  const odd = named.filter(
    ({ series, sureness }) =>
      sureness === 0 &&
      !series.labels &&
      series.unit !== null &&
      SLIPS.test(series.unit) &&
      !(/V$/.test(series.unit) && noiseAboutZero(series.values)),
  )
  return odd.slice(0, MOST_TRIED).flatMap(({ series }) => {
    for (const factor of FACTORS) {
      const scaled = { ...series, values: series.values.map((value) => value / factor) }
      const again = nameSeries(all.map((each) => (each === series ? scaled : each)))
      const pick = again.find((each) => each.series === scaled)
      if (pick && pick.sureness > 0 && SLIP_ID.test(pick.id) && !taken.has(pick.id))
        return [
          {
            id: pick.id,
            file,
            from: series.name,
            factor,
            why: `its values in ${series.unit} fit no car, a ${factor > 1 ? 'thousandth' : 'thousand times'} of them do`,
          },
        ]
    }
    return []
  })
}

/** A voltage behind contactors that never closed: no scale makes it more. */
function noiseAboutZero(values: Float64Array): boolean {
  const [low, middle, high] = [0.01, 0.5, 0.99].map((share) => quantile(values, share)) as [
    number,
    number,
    number,
  ]
  return low < 0 && high > 0 && Math.abs(middle) < 0.5 * (high - low)
}

/** A car that drove faster than this drew more than these amperes. Common practice, no source. */
const DROVE_KMH = 40
const DREW_A = 1.5
/** A pedal's volts: far under its supply, or far over. */
const PEDAL_LOW_V = 0.02
const PEDAL_HIGH_V = 100

/** Named channels whose values the rest of the log shows to be off by a thousand; they lose their name. */
export function doubtfulUnits(
  all: readonly Cleaned[],
  file: string,
): { kept: Cleaned[]; doubts: readonly UnitDoubt[] } {
  const doubts = new Map<Cleaned, UnitDoubt>()
  const most = (named: Cleaned): number => quantile(named.series.values.map(Math.abs), 0.995)
  const find = (id: string): Cleaned | undefined => all.find((each) => each.id === id)
  const doubt = (named: Cleaned, id: string, factor: number, why: string): void => {
    doubts.set(named, { id, file, from: named.series.name, factor, why })
  }
  const speed = find('speed') ?? find('wheel_speed.1')
  for (const id of ['pack_current', 'inverter_dc_current']) {
    const current = find(id)
    if (!current || !speed || !(most(speed) > DROVE_KMH)) continue
    const amperes = most(current)
    if (amperes > 0 && amperes < DREW_A)
      doubt(
        current,
        id,
        1 / 1000,
        `the car drove ${most(speed).toFixed(0)} km/h on at most ${amperes.toPrecision(2)} A`,
      )
  }
  const lv = find('lv_voltage')
  if (lv && !find('pack_voltage')) {
    const volts = quantile(lv.series.values, 0.5)
    if (volts > SLIP_LOW_V && volts < SLIP_HIGH_V)
      doubt(
        lv,
        'pack_voltage',
        1 / 1000,
        `no battery of a car reads ${volts.toPrecision(3)} V; a thousand times that is a pack`,
      )
  }
  for (const id of ['pedal_track_1', 'pedal_track_2']) {
    const track = find(id)
    if (track?.unit !== 'V' || track.series.unit === null) continue
    const volts = most(track)
    if (volts > 0 && (volts < PEDAL_LOW_V || volts > PEDAL_HIGH_V))
      doubt(
        track,
        id,
        volts < PEDAL_LOW_V ? 1 / 1000 : 1000,
        `a pedal track does not reach ${volts.toPrecision(2)} V`,
      )
  }
  const kept = all.map((each) =>
    doubts.has(each)
      ? { ...each, id: each.series.name, sureness: 0, why: `unit in doubt: ${doubts.get(each)!.why}` }
      : each,
  )
  return { kept, doubts: [...doubts.values()] }
}
