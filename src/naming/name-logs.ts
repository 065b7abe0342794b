import { catalogueEntry } from '../../shared/channels.ts'
import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { median } from '../math/stats.ts'
import { type Named, nameSeries } from './name-series.ts'

/**
 * All logs of a drive, named. A file a module or box, each counting its own cells from 1 (`U1 … U14` in `module_03.csv`),
 * or columns of one name for each box of one file, are parts of one battery: the cells are counted on from part to part,
 * and what one file alone does not tell is named beside its like, with the file's name before it. Two loggers of the
 * same cells are none.
 */
export function nameLogs(logs: readonly RawLog[], vehicle: Vehicle): Named[][] {
  const alone = logs.map((log) => nameSeries(log.series))
  const parts = partsOfOneBattery(logs, alone, vehicle)
  if (parts.length === 0) return alone
  const found = namedTogether(logs, parts)
  const counts = new Map<string, number>()
  for (const { named } of parts) {
    const before = new Map(counts)
    for (const each of named) {
      const [, family = '', number = ''] = NUMBERED.exec(each.id) ?? []
      if (number === '') continue
      const on = (before.get(family) ?? 0) + Number(number)
      counts.set(family, Math.max(on, counts.get(family) ?? 0))
      const id = `${family}.${on}`
      if (catalogueEntry(id))
        found.set(each.series, { ...each, id, why: `${each.why}; counted on through ${parts.length} parts` })
    }
  }
  return alone.map((all) => all.map((named) => found.get(named.series) ?? named))
}

const NUMBERED = /^(cell_voltage|module_temperature|balancing|cell_resistance_reported)\.(\d+)$/
/** Words of a file that is a part of a battery. Common practice, no source. */
const PART =
  /module?|modulo|mod(?=[\W_\d])|box|slave|cmu|csc|bmu|brick|block|string|front|rear|vorn|hinten|left|right/i

/** Cells that are counted from 1: a file, or the columns of one file that repeat its names for the second, third … time. */
interface Part {
  readonly at: number
  readonly copy: number
  readonly named: readonly Named[]
}

/** Columns that one file alone does not tell (`T1`), told by those of all files beside each other. */
function namedTogether(logs: readonly RawLog[], parts: readonly Part[]): Map<RawSeries, Named> {
  const known = new Set(parts.flatMap(({ named }) => named.flatMap(({ id }) => NUMBERED.exec(id)?.[1] ?? [])))
  const behind = new Map<RawSeries, RawSeries>()
  const together = parts.flatMap(({ at, named }) =>
    named.flatMap(({ series, sureness }) => {
      if (sureness > 0 || series.channel !== null || !/\d/.test(series.name) || series.timeS.length === 0)
        return []
      const copy = { ...series, name: `${stem(logs[at]!.name)} ${series.name}` }
      behind.set(copy, series)
      return [copy]
    }),
  )
  if (together.length < parts.length) return new Map()
  return new Map(
    nameSeries(together).flatMap((named) => {
      const family = NUMBERED.exec(named.id)?.[1]
      const series = behind.get(named.series)!
      return family && !known.has(family) ? [[series, { ...named, series }] as const] : []
    }),
  )
}

/** The parts, in their order; none where nothing shows that they are parts. */
function partsOfOneBattery(
  logs: readonly RawLog[],
  named: readonly Named[][],
  vehicle: Vehicle,
): readonly Part[] {
  const all = logs.flatMap((_, at) => [{ at, copy: 1, named: named[at]! }, ...repeats(at, named[at]!)])
  const parts = all.filter((part) => cellsOf(part).length >= 2)
  const ids = parts.flatMap((part) => cellsOf(part).map(({ id }) => id))
  if (parts.length < 2 || new Set(ids).size === ids.length) return []
  const names = parts.map(({ at, copy }) => `${stem(logs[at]!.name)} ${copy}`)
  if (new Set(names).size < names.length || !shows(logs, named, parts, vehicle)) return []
  return [...parts].sort((a, b) => placed(logs[a.at]!, logs[b.at]!, vehicle) || a.copy - b.copy)
}

const cellsOf = ({ named }: Part): Named[] => named.filter(({ id }) => id.startsWith('cell_voltage.'))

/** `Cell 1 (2)`, as the importers call a column whose name stood before: named without what was put behind it. */
function repeats(at: number, named: readonly Named[]): Part[] {
  const copies = new Map<number, Map<RawSeries, RawSeries>>()
  for (const { series, sureness } of named) {
    const [, name = '', count = ''] = /^(.*\d.*) \((\d+)\)$/.exec(series.name) ?? []
    if (count === '' || sureness > 0 || series.channel !== null || series.timeS.length === 0) continue
    const own = copies.get(Number(count)) ?? new Map<RawSeries, RawSeries>()
    copies.set(Number(count), own.set({ ...series, name }, series))
  }
  return [...copies].map(([copy, own]) => ({
    at,
    copy,
    named: nameSeries([...own.keys()]).map((each) => ({ ...each, series: own.get(each.series)! })),
  }))
}

/** The pack's voltage, else the vehicle file's count, else the files' names tell parts from copies. */
function shows(
  logs: readonly RawLog[],
  named: readonly Named[][],
  parts: readonly Part[],
  vehicle: Vehicle,
): boolean {
  const cells = parts.map(cellsOf)
  const sums = cells.map((each) => each.length * median(each.map(({ series }) => median(series.values))))
  const total = sums.reduce((sum, each) => sum + each, 0)
  const pack = named.flat().find(({ id, sureness }) => id === 'pack_voltage' && sureness >= 0.6)
  if (pack) {
    const off = (sum: number): number => {
      const ratio = median(pack.series.values) / sum
      return Math.abs(ratio / 10 ** Math.round(Math.log10(ratio)) - 1)
    }
    if (off(total) < 0.03) return true
    if (sums.some((sum) => off(sum) < 0.03)) return false
  }
  const count = cells.reduce((sum, each) => sum + each.length, 0)
  if (vehicle.pack?.cells !== undefined) return vehicle.pack.cells === count
  return parts.every(({ at, copy }) => copy === 1 && PART.test(stem(logs[at]!.name)))
}

const stem = (name: string): string => name.replace(/(\.(csv|txt|log|tsv|dat|gz))+$/i, '')

/** Boxes in the order of the vehicle file where it names them, else by number and letter. */
function placed(a: RawLog, b: RawLog, vehicle: Vehicle): number {
  const boxes = [...new Set(vehicle.pack?.box_of_module ?? [])].map((box) => box.toLowerCase())
  const place = (log: RawLog): number => boxes.findIndex((box) => stem(log.name).toLowerCase().includes(box))
  return place(a) - place(b) || a.name.localeCompare(b.name, 'en', { numeric: true })
}
