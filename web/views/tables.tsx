import { useEffect, useState } from 'preact/hooks'
import type { Table } from '../../shared/api.ts'
import { classWord, fixedText, placesOf, withInterval } from '../../shared/wording.ts'
import { table } from '../api.ts'
import { choose } from '../route.ts'
import { fail } from '../state.ts'
import type { ViewProps } from './drive-frame.tsx'

const NAMES = [
  ['cells', 'Cells'],
  ['modules', 'Modules'],
  ['brake-applications', 'Brake applications'],
  ['starts', 'Starts'],
] as const

/** Cells, modules, brake applications and starts as tables: sort, group, take away as CSV. */
export function Tables({ drive, item }: ViewProps) {
  const name = NAMES.find(([each]) => each === item)?.[0] ?? 'cells'
  const [group, setGroup] = useState('')
  const [sort, setSort] = useState<{ key: string; falling: boolean } | null>(null)
  const [found, setFound] = useState<Table | null>(null)
  const id = drive.summary.id
  useEffect(() => {
    let wanted = true
    table(id, name, group, sort?.key ?? '', sort?.falling ?? false).then(
      (got) => wanted && setFound(got),
      fail,
    )
    return () => {
      wanted = false
    }
  }, [id, name, group, sort])
  const shown = found?.name === name ? found : null
  return (
    <>
      <h1>Tables</h1>
      <div class="tool-row">
        <ul class="button-row">
          {NAMES.map(([each, label]) => (
            <li key={each}>
              <button
                type="button"
                aria-pressed={each === name}
                onClick={() => {
                  setGroup('')
                  setSort(null)
                  choose(each)
                }}
              >
                {label}
              </button>
            </li>
          ))}
        </ul>
        {shown && shown.groups.length > 0 ? (
          <label class="field">
            Summary by
            <select value={group} onChange={(event) => setGroup(event.currentTarget.value)}>
              <option value="">all rows</option>
              {shown.groups.map((key) => (
                <option key={key} value={key}>
                  {shown.columns.find((column) => column.key === key)?.label}
                </option>
              ))}
            </select>
          </label>
        ) : null}
        <a class="button" href={`/api/drives/${id}/tables/${name}/csv`} download>
          Take away as CSV
        </a>
      </div>
      {shown === null ? (
        <p>Making the table …</p>
      ) : (shown.columns[0]?.values.length ?? 0) === 0 ? (
        <p class="panel">
          This drive has no rows for this table. The Findings view says what was not assessed and why.
        </p>
      ) : (
        <>
          <Summary table={shown} />
          <Rows table={shown} sort={sort} setSort={setSort} />
        </>
      )}
    </>
  )
}

function Rows({
  table: { columns, title },
  sort,
  setSort,
}: {
  table: Table
  sort: { key: string; falling: boolean } | null
  setSort: (sort: { key: string; falling: boolean }) => void
}) {
  const rows = columns[0]?.values.length ?? 0
  const plusMinus = new Map(
    columns.flatMap((each) =>
      each.key.endsWith(PLUS_MINUS) ? [[each.key.slice(0, -PLUS_MINUS.length), each.values] as const] : [],
    ),
  )
  const shown = columns.filter((each) => !each.key.endsWith(PLUS_MINUS))
  const places = new Map(shown.map(({ key, values }) => [key, columnPlaces(values)]))
  return (
    <>
      <h2>
        {title} <span class="number">{rows}</span>
      </h2>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a table that scrolls must be reached by keys */}
      <section class="table-scroll" tabIndex={0} aria-label={title}>
        <table class="wide-table">
          <thead>
            <tr>
              {shown.map(({ key, label, unit, values }) => {
                const own = sort?.key === key ? sort : null
                return (
                  <th
                    key={key}
                    scope="col"
                    class={isNumbers(values) ? 'num' : ''}
                    aria-sort={own ? (own.falling ? 'descending' : 'ascending') : 'none'}
                  >
                    <button
                      type="button"
                      class="quiet sort"
                      onClick={() => setSort({ key, falling: own ? !own.falling : isNumbers(values) })}
                    >
                      {label}
                      {unit ? `, ${unit}` : ''} {own ? (own.falling ? '▼' : '▲') : ''}
                    </button>
                  </th>
                )
              })}
            </tr>
          </thead>
          <tbody>
            {Array.from({ length: rows }, (_, row) => (
              <tr key={row}>
                {shown.map(({ key, values }) => (
                  <td key={key} class={typeof values[row] === 'number' ? 'num' : ''}>
                    {cellText(values[row] ?? null, plusMinus.get(key)?.[row] ?? null, places.get(key)!)}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </section>
    </>
  )
}

function Summary({ table: { summary, columns } }: { table: Table }) {
  const keys = Object.keys(summary[0]?.figures ?? {})
  if (keys.length === 0) return null
  const column = (key: string) => columns.find((each) => each.key === key)!
  return (
    <>
      <h2>Summary</h2>
      <p class="soft">Mean ± spread (one standard deviation), and below it the lowest and the highest.</p>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a table that scrolls must be reached by keys */}
      <section class="table-scroll" tabIndex={0} aria-label="Summary">
        <table class="wide-table">
          <thead>
            <tr>
              <th scope="col">Group</th>
              <th scope="col" class="num">
                Rows
              </th>
              {keys.map((key) => (
                <th key={key} scope="col" class="num">
                  {column(key).label}
                  {column(key).unit ? `, ${column(key).unit}` : ''}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {summary.map((row) => (
              <tr key={row.group}>
                <th scope="row">{classWord(row.group)}</th>
                <td class="num">{row.rows}</td>
                {keys.map((key) => {
                  const { mean, spread, min, max } = row.figures[key]!
                  const places = placesOf([mean, min, max])
                  return (
                    <td key={key} class="num">
                      {mean === null ? '–' : withInterval(mean, spread, '')}
                      {mean === null ? null : (
                        <span class="soft lowest-highest">
                          {fixedText(min, places)} to {fixedText(max, places)}
                        </span>
                      )}
                    </td>
                  )
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </section>
    </>
  )
}

const isNumbers = (values: Table['columns'][number]['values']) =>
  values.some((value) => typeof value === 'number')

const PLUS_MINUS = '_plus_minus'

/** Whole numbers stay whole; figures share their decimals, so that points stand under points. */
function columnPlaces(values: Table['columns'][number]['values']): number {
  const numbers = values.filter((value) => typeof value === 'number')
  if (numbers.every(Number.isInteger)) return 0
  // figures that lie close together, such as cell voltages, need one digit more to be told apart
  const [low, high] = [Math.min(...numbers), Math.max(...numbers)]
  return placesOf(numbers, high - low < 0.2 * Math.abs(high) ? 4 : 3)
}

const cellText = (value: number | string | null, plusMinus: number | string | null, places: number) =>
  value === null
    ? '–'
    : typeof value === 'string'
      ? classWord(value)
      : typeof plusMinus === 'number'
        ? withInterval(value, plusMinus, '')
        : fixedText(value, places)
