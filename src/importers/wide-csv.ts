import { parse } from 'csv-parse/sync'
import type { LogSource } from '../bytes/file-source.ts'
import type { RawLog, RawSeries } from './raw-log.ts'

/** First cut: UTF-8, header on line 1, seconds, milliseconds or ISO time. */
export async function readWideCsv(log: LogSource): Promise<RawLog> {
  const parts: Uint8Array[] = []
  for await (const chunk of log.chunks()) parts.push(chunk)
  const text = new TextDecoder().decode(Buffer.concat(parts))
  const head = text.slice(0, text.indexOf('\n'))
  const delimiter = head.includes(';') ? ';' : head.includes('\t') ? '\t' : ','
  const rows: string[][] = parse(text, { delimiter, relax_column_count: true })
  const names = rows[0]!
  const timeAt = names.findIndex((name) => /^(time|timestamp|t)\b|^time_/i.test(name))
  const toMs = /ms/.test(names[timeAt]!) ? 1e-3 : 1
  const times = new Float64Array(rows.length - 1)
  const wall = /\d-\d/.test(rows[1]![timeAt]!)
  const first = wall ? Date.parse(`${rows[1]![timeAt]!.replace(' ', 'T')}Z`) : 0
  for (let i = 1; i < rows.length; i++) {
    const field = rows[i]![timeAt]!
    times[i - 1] = wall
      ? (Date.parse(`${field.replace(' ', 'T')}Z`) - first) / 1000
      : Number(field.replace(',', '.')) * toMs
  }
  const shared = new Map<string, Float64Array>()
  const series: RawSeries[] = []
  for (let c = 0; c < names.length; c++) {
    if (c === timeAt) continue
    const t: number[] = []
    const v: number[] = []
    for (let i = 1; i < rows.length; i++) {
      const field = rows[i]![c]
      if (field === undefined || field === '') continue
      t.push(times[i - 1]!)
      v.push(Number(field.replace(',', '.')))
    }
    const key = `${t.length}/${t[0]}/${t[1]}/${t[t.length - 1]}`
    if (!shared.has(key)) shared.set(key, Float64Array.from(t))
    const name = names[c]!
    const unit =
      /[[(](.+?)[\])]/.exec(name)?.[1] ??
      /_(mv|v|a|kmh|nm|rpm|pct|kpa|degc|kohm|mohm)$/i.exec(name)?.[1] ??
      null
    series.push({
      name,
      unit,
      channel: null,
      timeS: shared.get(key)!,
      values: Float64Array.from(v),
      fresh: null,
      labels: null,
      node: null,
    })
  }
  return {
    name: log.name,
    sha256: await log.sha256(),
    layout: log.packed ? 'wide CSV, gzip' : 'wide CSV',
    rows: rows.length - 1,
    skipped: [],
    series,
    startedAt: wall ? new Date(first).toISOString() : null,
    fingerprint: names.join('|'),
    bus: null,
    events: [],
    clockSteps: [],
  }
}
