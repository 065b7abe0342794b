import { csvParse } from './csv-parser.ts'

/** So many lines are enough to part records, where they hold enough characters. */
const ENOUGH_LINES = 30

/** One record of the head. */
export interface HeadRecord {
  readonly fields: readonly string[]
  /** Line on which it begins. */
  readonly line: number
}

/** Options under which csv-parse is the reference for splitting records. */
export const SPLIT = { relax_quotes: true, relax_column_count: true, skip_empty_lines: false } as const

const RECORDS = 300
/** The dialect is told by this much text, and by thirty lines at least. */
const ENOUGH_CHARACTERS = 1 << 15

/** As many of the first lines as tell the dialect. */
export function firstLines(text: string, newline: string): string {
  let end = 0
  for (let line = 0; line < RECORDS && end >= 0; line++) {
    if (line >= ENOUGH_LINES && end > ENOUGH_CHARACTERS) break
    end = text.indexOf(newline, end) + 1
    if (end === 0) return text
  }
  return text.slice(0, end)
}

/**
 * The head split into records as csv-parse does; where nothing is quoted and all lines end alike, by plain splitting,
 * which gives the same (property test) and saves a cold process the warming of a whole parser.
 */
export function recordsOf(text: string, delimiter: string, newline: string): HeadRecord[] {
  const ending = plainEnding(text, newline)
  return ending === null
    ? recordsByParser(text, delimiter, newline)
    : text
        .slice(0, text.endsWith(ending) ? -ending.length : undefined)
        .split(ending, RECORDS)
        .map((line, at) => ({ fields: line.split(delimiter), line: at + 1 }))
}

/** What ends every line; null where quotes or mixed ends leave it to csv-parse. */
function plainEnding(text: string, newline: string): string | null {
  if (text === '' || text.includes('"')) return null
  if (newline === '\r' || !text.includes('\r')) return newline
  return /\r(?!\n)|(?<!\r)\n/.test(text) ? null : '\r\n'
}

export function recordsByParser(text: string, delimiter: string, newline: string): HeadRecord[] {
  let rows: { record: string[]; info: { lines: number } }[]
  try {
    rows = csvParse(text, {
      ...SPLIT,
      delimiter,
      info: true,
      to: RECORDS,
      ...(newline === '\r' ? { record_delimiter: '\r' } : {}),
    }) as unknown as typeof rows
  } catch {
    return recordsByLine(text, delimiter, newline)
  }
  let line = 1
  return rows.map(({ record, info }) => {
    const begins = line
    line = Math.max(line + 1, info.lines)
    return { fields: record, line: begins }
  })
}

/** A quote that is never closed spoils its own line only. */
function recordsByLine(text: string, delimiter: string, newline: string): HeadRecord[] {
  return text
    .split(newline)
    .slice(0, RECORDS)
    .flatMap((line, at) => {
      try {
        const [fields] = csvParse(line.replace(/\r$/, ''), { ...SPLIT, delimiter }) as string[][]
        return fields ? [{ fields, line: at + 1 }] : []
      } catch {
        return []
      }
    })
}
