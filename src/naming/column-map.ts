import { z } from 'zod'
import { catalogueEntry } from '../../shared/channels.ts'
import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import { isUnit } from '../../shared/units.ts'
import { visibleAll } from '../../shared/visible.ts'
import { type JsonKind, readJsonFile } from '../bytes/json-file.ts'
import { LogError } from '../errors.ts'

/**
 * A person's word on columns, by name as written: a channel; a channel and unit; or null to leave the column out.
 *
 *     { "U_ges": "pack_voltage", "Temp A": { "channel": "module_temperature.1", "unit": "°F" }, "Spare": null }
 */
const mapSchema = z.record(
  z.string(),
  z.union([
    z.string(),
    z.null(),
    z.strictObject({ channel: z.string().nullable().optional(), unit: z.string().nullable().optional() }),
  ]),
)
const KIND: JsonKind = { code: 'map', expected: 'a map of columns (JSON)' }

export type ColumnMap = z.infer<typeof mapSchema>

/** Reads a `--map` file. @throws LogError one sentence naming the file and the column */
export async function readColumnMap(path: string): Promise<ColumnMap> {
  const checked = mapSchema.safeParse(visibleAll(readJsonFile(path, KIND)))
  if (!checked.success) {
    const [issue] = checked.error.issues
    const where = issue!.path.length > 0 ? `"${String(issue!.path[0])}"` : 'the whole'
    throw new LogError(
      'map',
      `${path}: ${where} is not understood; a channel, { "channel", "unit" } or null was expected.`,
    )
  }
  const mapped = new Map<string, string>()
  for (const [column, given] of Object.entries(checked.data)) {
    const channel = typeof given === 'string' ? given : given?.channel
    const before = channel ? mapped.get(channel) : undefined
    if (channel && before !== undefined)
      throw new LogError(
        'map',
        `${path}: "${before}" and "${column}" are both mapped to "${channel}"; one column a channel was expected.`,
      )
    if (channel) mapped.set(channel, column)
    if (channel && !catalogueEntry(channel))
      throw new LogError(
        'map',
        `${path}: "${column}" is mapped to "${channel}", which is no channel; one of the catalogue was expected.`,
      )
    const unit = typeof given === 'string' ? null : given?.unit
    if (unit && !isUnit(unit))
      throw new LogError('map', `${path}: "${column}" has the unit "${unit}", which is not understood.`)
  }
  return checked.data
}

/**
 * The log with a person's word applied: it outranks what names and values say.
 * @param by who said it: this run's map, or corrections kept for this layout
 */
export function applyColumnMap(log: RawLog, map: ColumnMap, by: 'map' | 'remembered'): RawLog {
  const names = new Set(Object.keys(map))
  if (!log.series.some((series) => names.has(series.name))) return log
  const out: string[] = []
  const series: RawSeries[] = []
  for (const each of log.series) {
    const given = names.has(each.name) ? map[each.name] : undefined
    if (given === undefined) series.push(each)
    else if (given === null) out.push(each.name)
    else {
      const { channel = undefined, unit = null } = typeof given === 'string' ? { channel: given } : given
      series.push({
        ...each,
        ...(channel === undefined ? {} : { channel: channel ?? each.name, fixedBy: by }),
        unit: unit ?? each.unit,
      })
    }
  }
  const skipped =
    out.length === 0 ? [] : [{ what: `columns left out by the map`, count: out.length, first: `"${out[0]}"` }]
  const used =
    by === 'remembered'
      ? [
          `Corrections kept for this layout were used (${[...names].slice(0, 3).join(', ')}${names.size > 3 ? ', …' : ''}).`,
        ]
      : []
  // A drive that comes as it was is read anew where a person says otherwise of a column.
  const { finished: _, ...plain } = log
  return { ...plain, series, skipped: [...log.skipped, ...skipped], notes: [...(log.notes ?? []), ...used] }
}
