import { useState } from 'preact/hooks'
import type { Table } from '../../shared/api.ts'
import { numberText } from '../../shared/wording.ts'
import { carTable } from '../api.ts'
import { ScrollTable } from '../parts/scroll-table.tsx'
import { fail } from '../state.ts'

/** So many rows are shown; what differs most of its spread stands first. */
const MOST = 40

/** A table of the car's figures, read when it is opened. */
export function CarTable({ car, name, title }: { car: string; name: string; title: string }) {
  const [table, setTable] = useState<Table | null>(null)
  const columns = table?.columns ?? []
  const rows = columns[0]?.values.length ?? 0
  return (
    <details
      onToggle={(event) => {
        if (event.currentTarget.open && table === null) carTable(car, name).then(setTable).catch(fail)
      }}
    >
      <summary>{title}</summary>
      {table === null ? (
        <p>Reading …</p>
      ) : rows === 0 ? (
        <p>No drive tells a figure of these.</p>
      ) : (
        <ScrollTable
          label={table.title}
          headings={columns.map(({ label, values }) => ({
            text: label,
            num: values.some((each) => typeof each === 'number'),
          }))}
        >
          {Array.from({ length: Math.min(rows, MOST) }, (_, row) => (
            <tr key={String(columns[0]!.values[row])}>
              {columns.map(({ key, values }) => {
                const value = values[row] ?? null
                return (
                  <td key={key} class={typeof value === 'string' ? '' : 'num'}>
                    {typeof value === 'string' ? value : numberText(value)}
                  </td>
                )
              })}
            </tr>
          ))}
        </ScrollTable>
      )}
    </details>
  )
}
