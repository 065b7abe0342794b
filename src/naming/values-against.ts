import type { RawSeries } from '../../shared/raw-log.ts'
import type { Column } from './column.ts'
import { ARGUABLE, type CellSum, isNamed, near, type Pick } from './pick.ts'
import { VOCABULARY } from './vocabulary.ts'

/**
 * Where the values speak against a name, the name loses: two voltages of which one is the sum of the cells are settled
 * by it; a coolant that belongs to the cabin's heater is not the drive's. In place.
 */
export function valuesAgainst(
  picks: Map<RawSeries, Pick>,
  columns: readonly Column[],
  sum: CellSum | null,
): void {
  if (sum) packByTheCells(picks, columns, sum)
  cabinsCoolant(picks, columns)
}

/** A "pack voltage" far from the sum of the cells, and one other voltage that stays at it: that one is the pack's. */
function packByTheCells(picks: Map<RawSeries, Pick>, columns: readonly Column[], sum: CellSum): void {
  const pack = columns.find(({ series }) => picks.get(series)?.id === 'pack_voltage')
  const pick = pack && picks.get(pack.series)
  if (!pack || !pick || pick.sureness > ARGUABLE || near(pack.values.spread.middle, sum, 0.1)) return
  const others = columns.filter(({ series, values }) => {
    if (series === pack.series || isNamed(picks, series) || values.text) return false
    const { low, middle } = values.spread
    return near(middle, sum, 0.03) && low > 0.7 * middle && (series.unit === null || /v/i.test(series.unit))
  })
  const [other] = others
  if (!other || others.length > 1) return
  picks.delete(pack.series)
  picks.set(other.series, {
    id: 'pack_voltage',
    sureness: 0.85,
    why: `of two voltages it alone stays at the sum of the ${sum.count} cells; "${pack.series.name}" does not`,
  })
}

const CABINS = /^(heatercore|exchanger|defrost|hvac)$/
const OF_THE_DRIVE = ['pack', 'bms', 'inverter', 'motor', 'dcdc', 'charger', 'module']

const means = (column: Column, meanings: readonly string[]): boolean =>
  column.name.words.some((word) => VOCABULARY.meanings.get(word)?.some((each) => meanings.includes(each)))

/**
 * In a log that also names the coolant of a cabin's heater or heat exchanger, "coolant inlet" alone may be that
 * circuit's: it is the drive's only where a word says so.
 */
function cabinsCoolant(picks: Map<RawSeries, Pick>, columns: readonly Column[]): void {
  const cabins = columns.find(
    (column) =>
      means(column, ['coolant']) &&
      (means(column, ['heater', 'cabin']) || column.name.words.some((word) => CABINS.test(word))),
  )
  if (!cabins) return
  for (const column of columns) {
    const pick = picks.get(column.series)
    if (!pick || pick.sureness > ARGUABLE || !/^coolant_(in|out|flow)$/.test(pick.id)) continue
    if (!means(column, OF_THE_DRIVE)) picks.delete(column.series)
  }
}
