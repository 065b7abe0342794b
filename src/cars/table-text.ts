import type { Table } from '../../shared/api.ts'
import { numberText } from '../../shared/wording.ts'

/** Rows that a terminal shows; `--json` gives all. */
const MOST = 25

/** A table for the terminal: a line a row, columns under each other. */
export function tableText({ title, columns }: Table): string {
  const all = columns[0]?.values.length ?? 0
  const rows = Math.min(all, MOST)
  const texts = columns.map(({ label, values }) => [
    label,
    ...values.slice(0, rows).map((each) => (typeof each === 'number' ? numberText(each) : (each ?? '–'))),
  ])
  const wide = texts.map((column) => Math.max(...column.map((each) => each.length)))
  const line = (row: number): string =>
    texts
      .map((column, at) => (at === 0 ? column[row]!.padEnd(wide[at]!) : column[row]!.padStart(wide[at]!)))
      .join('  ')
  const more = all > rows ? `\n${all - rows} more rows; --json gives all.` : ''
  return `${title}\n${Array.from({ length: rows + 1 }, (_, row) => line(row)).join('\n')}${more}\n`
}
