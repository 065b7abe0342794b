import type { RawSeries } from '../../shared/raw-log.ts'
import { quantityOf } from '../../shared/units.ts'
import { correlation } from '../math/correlation.ts'
import type { Column } from './column.ts'
import { ARGUABLE, type CellSum, near, type Pick, sumOfCells } from './pick.ts'
import { toldByOthers } from './told-by-others.ts'
import { valuesAgainst } from './values-against.ts'

/** A column of fewer values follows nothing. */
const FEWEST_VALUES = 3
/** Two tracks of one pedal follow each other so closely; no source. */
const FOLLOWS_R = 0.9

/**
 * What the columns say about each other: names, makes surer, turns round, in place.
 * - The pack's voltage is the sum of its cells, to a power of ten for a unit not stated; where no name tells it, the
 *   one column that stays at that sum throughout is it.
 * - The link's voltage falls with the contactors open, the pack's does not: told the wrong way round, they change places.
 * - Two pedal tracks move together, or one against the other.
 */
export function relate(picks: Map<RawSeries, Pick>, columns: readonly Column[]): void {
  const sum = sumOfCells(picks, columns)
  if (sum) {
    changePackAndLink(picks, columns, sum)
    packByItsSum(picks, columns, sum)
    packIsSumOfCells(picks, columns, sum)
  }
  valuesAgainst(picks, columns, sum)
  toldByOthers(picks, columns)
  tracksMoveTogether(picks)
}

const named = (
  picks: ReadonlyMap<RawSeries, Pick>,
  columns: readonly Column[],
  id: string,
): Column | undefined => columns.find(({ series }) => picks.get(series)?.id === id)

function packIsSumOfCells(picks: Map<RawSeries, Pick>, columns: readonly Column[], sum: CellSum): void {
  const pack = named(picks, columns, 'pack_voltage')
  if (!pack || !near(pack.values.spread.middle, sum, 0.05)) return
  const pick = picks.get(pack.series)!
  picks.set(pack.series, {
    ...pick,
    sureness: Math.max(pick.sureness, 0.97),
    why: `${pick.why}; it is the sum of the ${sum.count} cells`,
  })
}

function changePackAndLink(picks: Map<RawSeries, Pick>, columns: readonly Column[], sum: CellSum): void {
  const pack = named(picks, columns, 'pack_voltage')
  const link = named(picks, columns, 'link_voltage')
  if (!pack || !link) return
  const [packPick, linkPick] = [picks.get(pack.series)!, picks.get(link.series)!]
  if (Math.max(packPick.sureness, linkPick.sureness) > ARGUABLE) return
  const falls = ({ values }: Column): boolean => values.spread.low < 0.2 * values.spread.high
  const stays = ({ values }: Column): boolean =>
    values.spread.low > 0.7 * values.spread.high && near(values.spread.middle, sum, 0.05)
  if (!falls(pack) || !stays(link)) return
  const why =
    'one of the two voltages falls with the contactors open, the other stays at the sum of the cells'
  picks.set(pack.series, {
    id: 'link_voltage',
    sureness: Math.min(0.8, packPick.sureness),
    why: `${packPick.why}, but ${why}`,
  })
  picks.set(link.series, {
    id: 'pack_voltage',
    sureness: Math.min(0.9, linkPick.sureness),
    why: `${linkPick.why}, but ${why}`,
  })
}

function packByItsSum(picks: Map<RawSeries, Pick>, columns: readonly Column[], sum: CellSum): void {
  if (named(picks, columns, 'pack_voltage')) return
  const alike = columns.filter(({ series, values }) => {
    if (picks.has(series) || values.text || values.distinct < FEWEST_VALUES) return false
    if (series.unit !== null && quantityOf(series.unit) !== 'V') return false
    const { low, middle } = values.spread
    return near(middle, sum, 0.02) && near(low, sum, 0.2) && low > 0.7 * middle
  })
  const [pack] = alike
  if (!pack || alike.length > 1) return
  picks.set(pack.series, {
    id: 'pack_voltage',
    sureness: 0.7,
    why: `no word names it, but it alone stays at the sum of the ${sum.count} cells`,
  })
}

function tracksMoveTogether(picks: Map<RawSeries, Pick>): void {
  const byId = new Map([...picks].map(([series, pick]) => [pick.id, series]))
  const one = byId.get('pedal_track_1')
  const two = byId.get('pedal_track_2')
  if (!one || !two || one.timeS !== two.timeS) return
  if (!(Math.abs(correlation(one.values, two.values).r) > FOLLOWS_R)) return
  for (const series of [one, two]) {
    const pick = picks.get(series)!
    picks.set(series, {
      ...pick,
      sureness: Math.max(pick.sureness, 0.95),
      why: `${pick.why}; the two tracks move together`,
    })
  }
}
