import type { RawSeries } from '../../shared/raw-log.ts'
import { quantityOf } from '../../shared/units.ts'
import { correlation } from '../math/correlation.ts'
import type { Column } from './column.ts'
import { valuesFit } from './column-values.ts'
import { ARGUABLE, isNamed, LEAST_SURE, type Pick } from './pick.ts'
import { VOCABULARY } from './vocabulary.ts'

/** Values fit, but for a rounding. */
const ALL_FIT = 0.99
/** A column of fewer values follows nothing. */
const FEWEST_VALUES = 5
/** Two tracks of one pedal follow each other so closely; no source. */
const TWIN_R = 0.98
/** A battery's current flows both ways, beyond a zero's error; no source. */
const BOTH_WAYS_A = 2
/** A cell's reading beyond it is in millivolts. */
const MILLIVOLTS_FROM = 1000
/** A cell's voltage, any lithium chemistry, sagging and charging; common practice, no source. */
const CELL_LOW_V = 0.5
/** See above. */
const CELL_HIGH_V = 4.6
/** See above. */
const CELL_USUAL_V = 1.5

type Picks = Map<RawSeries, Pick>

/**
 * Names for columns whose own words tell too little, by the columns beside them. In place.
 * - `XYZ_soc`, `XYZ_cell_min` make XYZ a battery unit: `XYZ_voltage`, `XYZ_current` are the pack's.
 * - A second pedal signal that moves with the named track is the other track.
 * - A current that goes both ways beside a pack current without sign, of the same size, is the pack's with its sign.
 * - One voltage between 1.5 and 4.6 V, with a current, and nothing else of a battery: one cell on a bench.
 */
export function toldByOthers(picks: Picks, columns: readonly Column[]): void {
  byUnitsPrefix(picks, columns)
  twinOfTrack(picks, columns)
  signedTwin(picks, columns)
  cellOnBench(picks, columns)
}

const meaningOf = (word: string): readonly string[] => VOCABULARY.meanings.get(word) ?? []
const unknown = (word: string): boolean =>
  !VOCABULARY.meanings.has(word) && !VOCABULARY.noise.has(word) && !VOCABULARY.foreign.has(word)
const idsOf = (picks: Picks): Set<string> =>
  new Set([...picks.values()].filter(({ sureness }) => sureness >= LEAST_SURE).map(({ id }) => id))

/** Channels that only a battery unit writes. */
const OF_A_BATTERY =
  /^(soc|cell_voltage\.\d+|(lowest|highest|mean)_cell_(voltage|number)|charge_limit|discharge_limit|bms_\w+|isolation_resistance)$/

function byUnitsPrefix(picks: Picks, columns: readonly Column[]): void {
  const kinds = new Map<string, Set<string>>()
  for (const { series, name } of columns) {
    const id = picks.get(series)?.id ?? ''
    const [prefix] = name.words
    if (prefix === undefined || !unknown(prefix) || !OF_A_BATTERY.test(id)) continue
    const kind = id.replace(/\.\d+$/, '')
    kinds.set(prefix, (kinds.get(prefix) ?? new Set()).add(kind))
  }
  for (const [id, meaning] of [
    ['pack_voltage', 'voltage'],
    ['pack_current', 'current'],
  ] as const) {
    if (idsOf(picks).has(id)) continue
    const fits = columns.filter(({ series, name, values }) => {
      const [prefix, ...rest] = name.words
      if (isNamed(picks, series) || prefix === undefined || (kinds.get(prefix)?.size ?? 0) < 2) return false
      // `BE7_Voltage`: the number is the prefix's own.
      const own = /^\p{L}+\d+(?=[^\p{L}\d])/u.test(series.name) ? 1 : 0
      if (name.numbers.length > own || valuesFit(id, series.unit, values) < ALL_FIT) return false
      const said = rest.filter((word) => !VOCABULARY.noise.has(word))
      return said.every((word) => meaningOf(word).some((each) => each === meaning || each === 'total'))
    })
    const [column] = fits
    if (column && fits.length === 1)
      picks.set(column.series, {
        id,
        sureness: 0.75,
        why: `"${column.name.words[0]}" also names what only a battery unit writes; its values fit`,
      })
  }
}

function twinOfTrack(picks: Picks, columns: readonly Column[]): void {
  const ids = idsOf(picks)
  if (ids.has('pedal_track_1') === ids.has('pedal_track_2')) return
  const have = ids.has('pedal_track_1') ? 'pedal_track_1' : 'pedal_track_2'
  const track = columns.find(({ series }) => picks.get(series)?.id === have)
  if (!track || track.values.distinct < FEWEST_VALUES) return
  const words = new Set(track.name.words)
  const twins = columns.filter(({ series, name, values }) => {
    if (
      isNamed(picks, series) ||
      values.text ||
      values.distinct < FEWEST_VALUES ||
      series.timeS !== track.series.timeS
    )
      return false
    if (quantityOf(series.unit ?? '') !== quantityOf(track.series.unit ?? '')) return false
    if (!name.words.some((word) => words.has(word) || meaningOf(word).includes('pedal'))) return false
    return Math.abs(correlation(series.values, track.series.values).r) > TWIN_R
  })
  const [twin] = twins
  if (twin && twins.length === 1)
    picks.set(twin.series, {
      id: have === 'pedal_track_1' ? 'pedal_track_2' : 'pedal_track_1',
      sureness: 0.8,
      why: `it moves with "${track.series.name}", and shares its words: the other track`,
    })
}

/** Of the same size throughout: within this share of each other's mean. */
const SAME_SIZE = 0.1

function signedTwin(picks: Picks, columns: readonly Column[]): void {
  const pack = columns.find(({ series }) => picks.get(series)?.id === 'pack_current')
  if (!pack || pack.values.low < 0 || picks.get(pack.series)!.sureness > ARGUABLE) return
  const twins = columns.filter(({ series, values, name }) => {
    const pick = picks.get(series)
    if (series === pack.series || values.text || !(values.low < -BOTH_WAYS_A && values.high > BOTH_WAYS_A))
      return false
    if (pick && pick.id !== 'inverter_dc_current') return false
    if (series.unit !== null && quantityOf(series.unit) !== 'A') return false
    if (!name.words.some((word) => ['current', 'balancing'].some((each) => meaningOf(word).includes(each))))
      return false
    return series.timeS === pack.series.timeS && sameSize(series.values, pack.series.values)
  })
  const [twin] = twins
  if (!twin || twins.length > 1) return
  const { why } = picks.get(pack.series)!
  picks.delete(pack.series)
  picks.set(twin.series, {
    id: 'pack_current',
    sureness: 0.85,
    why: `it has the size of "${pack.series.name}" throughout and its sign as well (${why})`,
  })
}

function sameSize(signed: Float64Array, plain: Float64Array): boolean {
  let apart = 0
  let all = 0
  for (let i = 0; i < plain.length; i++) {
    const [a, b] = [Math.abs(signed[i]!), plain[i]!]
    if (Number.isNaN(a) || Number.isNaN(b)) continue
    apart += Math.abs(a - b)
    all += b
  }
  return all > 0 && apart < SAME_SIZE * all
}

const BENCH_WORDS = new Set(['voltage', 'cell', 'actual', 'pack'])

function cellOnBench(picks: Picks, columns: readonly Column[]): void {
  const ids = idsOf(picks)
  if (![...ids].includes('pack_current')) return
  if ([...ids].some((id) => /cell_voltage|^(pack|link|box)_voltage|^speed$|^motor_speed$/.test(id))) return
  const fits = columns.filter(({ series, name, values }) => {
    if (isNamed(picks, series) || values.text || values.distinct < FEWEST_VALUES) return false
    if (series.unit !== null && quantityOf(series.unit) !== 'V') return false
    const { low, high, middle } = values.spread
    const scale = middle > MILLIVOLTS_FROM ? 1e-3 : 1
    if (!(low * scale > CELL_LOW_V && high * scale < CELL_HIGH_V && middle * scale > CELL_USUAL_V))
      return false
    const said = name.words.filter((word) => !VOCABULARY.noise.has(word) && word !== 'terminal')
    return (
      said.some((word) => meaningOf(word).some((each) => each === 'voltage' || each === 'cell')) &&
      said.every((word) => meaningOf(word).some((each) => BENCH_WORDS.has(each)))
    )
  })
  const [cell] = fits
  if (cell && fits.length === 1)
    picks.set(cell.series, {
      id: 'cell_voltage.1',
      sureness: 0.7,
      why: 'the only voltage beside a current, and it reads what one cell reads',
    })
}
