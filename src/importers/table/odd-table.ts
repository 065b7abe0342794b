import type { LogSource } from '../../bytes/file-source.ts'
import { isTimeText } from '../time/time-text.ts'

/**
 * Tables that are a plain CSV but for one thing, put right byte by byte before they are read:
 *
 *     time   pack voltage   speed          columns parted by runs of blanks: each run becomes a tab
 *     0.00          350.1     0.0
 *
 *     0.00,pack_voltage,350.1              a row a sample without a header: `time,name,value` is set before it
 */
type Change =
  | { readonly kind: 'blanks'; readonly least: 1 | 2 }
  | { readonly kind: 'header'; readonly line: string }

const LINES = 60
const LEAST_LINES = 4
const BLANK = 32
const TAB = 9
const NUMBER = /^[+-]?(\d+[.,]?\d*|[.,]\d+)(e[+-]?\d+)?$/i

/** What has to be changed; null for any other table. Looks at the first lines only. */
export function oddTable(head: Uint8Array): Change | null {
  const text = new TextDecoder('latin1').decode(head.subarray(0, 1 << 15))
  const lines = text.split(/\r?\n/)
  if (text.length >= 1 << 15) lines.pop()
  const all = lines.filter((line) => line.trim() !== '')
  const filled = lines.slice(0, LINES).filter((line) => line.trim() !== '')
  if (filled.length < LEAST_LINES) return null
  return longWithoutHeader(all) ?? (/[;\t|]/.test(filled.join('')) ? null : partedByBlanks(filled))
}

const isValue = (field: string): boolean => NUMBER.test(field) || isTimeText(field)

function partedByBlanks(lines: readonly string[]): Change | null {
  // A comma that parts fields, not a decimal sign.
  if (lines.some((line) => /,(?!\d)|\d,\d+,/.test(line))) return null
  for (const least of [2, 1] as const) {
    const split = (line: string): string[] => line.trim().split(least === 2 ? / {2,}/ : / +/)
    const rows = lines.slice(1).map(split)
    const width = rows[rows.length >> 1]!.length
    if (width < 2 || split(lines[0]!).length !== width || split(lines[0]!).some(isValue)) continue
    const fit = rows.filter((row) => row.length === width && row.filter(isValue).length >= 0.6 * width)
    if (fit.length >= 0.9 * rows.length) return { kind: 'blanks', least }
  }
  return null
}

function longWithoutHeader(lines: readonly string[]): Change | null {
  for (const delimiter of [';', '\t', ',', '|']) {
    if (!lines[0]!.includes(delimiter)) continue
    const rows = lines.map((line) => line.split(delimiter).map((field) => field.trim().replace(/^"|"$/g, '')))
    const width = rows[0]!.length
    if (width < 3 || width > 4) continue
    const fits = rows.every(
      ([time = '', name = '', value = '', unit = '']) =>
        isValue(time) && /\p{L}/u.test(name) && !isValue(name) && NUMBER.test(value) && !NUMBER.test(unit),
    )
    const names = new Set(rows.map((row) => row[1]))
    if (!fits || names.size < 2 || names.size > rows.length / 2) continue
    return { kind: 'header', line: ['time', 'name', 'value', 'unit'].slice(0, width).join(delimiter) }
  }
  return null
}

/** The log with the change made. */
export function putRight(source: LogSource, change: Change): LogSource {
  const changed = change.kind === 'header' ? withHeader(change.line) : withTabs(change.least)
  return {
    ...source,
    head: changed()(source.head),
    async *chunks() {
      const next = changed()
      for await (const chunk of source.chunks()) yield next(chunk)
    },
  }
}

type Changer = () => (bytes: Uint8Array) => Uint8Array

function withHeader(line: string): Changer {
  return () => {
    let first = true
    return (bytes) => {
      if (!first) return bytes
      first = false
      return Buffer.concat([Buffer.from(`${line}\n`), bytes])
    }
  }
}

/** Runs of blanks inside a line become a tab, those at its ends vanish; carries over from chunk to chunk. */
function withTabs(least: 1 | 2): Changer {
  return () => {
    let blanks = 0
    let started = false
    return (bytes) => {
      const out = new Uint8Array(bytes.length + 2)
      let at = 0
      for (const byte of bytes) {
        if (byte === BLANK) {
          blanks++
          continue
        }
        const ends = byte === 10 || byte === 13
        if (blanks > 0 && started && !ends) out[at++] = blanks >= least ? TAB : BLANK
        blanks = 0
        started = !ends
        out[at++] = byte
      }
      return out.subarray(0, at)
    }
  }
}
