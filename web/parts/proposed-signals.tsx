import { useState } from 'preact/hooks'
import type { ProposedRow, WantedSignals } from '../../shared/api.ts'
import { CATALOGUE } from '../../shared/channels.ts'
import { TRYING_A_CONTROL } from '../../shared/wording.ts'
import { saveFile, signalsFile } from './save-file.ts'

type Change = { readonly [K in keyof ProposedRow]?: ProposedRow[K] | undefined }

/** Rows at least so sure are ticked to begin with; the others stand below them. */
const TICKED = 0.7

/**
 * A capture without a signal table: the rows that are proposed for one. A person ticks, edits and
 * saves them; the import goes on with what was ticked. Nothing is used silently.
 */
export function ProposedSignals({ seen, use }: { seen: WantedSignals; use: (table: File) => void }) {
  const [rows, setRows] = useState<readonly ProposedRow[]>(seen.rows)
  const [ticked, setTicked] = useState<ReadonlySet<number>>(
    () => new Set(seen.rows.flatMap((row, at) => (row.sureness >= TICKED ? [at] : []))),
  )
  const edit = (at: number, change: Change) =>
    setRows(rows.map((row, i) => (i === at ? ({ ...row, ...change } as ProposedRow) : row)))
  const tick = (at: number, on: boolean) => {
    const next = new Set(ticked)
    if (on) next.add(at)
    else next.delete(at)
    setTicked(next)
  }
  const table = () => tableFile(rows.filter((_, at) => ticked.has(at)))
  return (
    <section class="proposed" aria-labelledby="unknown-bus">
      <h2 id="unknown-bus">{seen.log}: nobody described this bus</h2>
      <p>
        {seen.frames.length} identifiers were heard. {rows.length} rows of a signal table are proposed. Look
        at each, put right what is wrong, and tick what shall be used.
      </p>
      <p class="hint">The program only listens: it never sends a frame. {TRYING_A_CONTROL.join(' ')}</p>
      <Rows rows={rows} ticked={ticked} tick={tick} edit={edit} />
      <div class="button-row">
        <button type="button" class="large main" disabled={ticked.size === 0} onClick={() => use(table())}>
          Read with the {ticked.size} rows ticked
        </button>
        <button type="button" class="large" disabled={ticked.size === 0} onClick={() => saveFile(table())}>
          Save the table
        </button>
      </div>
    </section>
  )
}

function Rows({
  rows,
  ticked,
  tick,
  edit,
}: {
  rows: readonly ProposedRow[]
  ticked: ReadonlySet<number>
  tick: (at: number, on: boolean) => void
  edit: (at: number, change: Change) => void
}) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a wide table is moved with the arrow keys
    <section class="scroll-x" tabIndex={0} aria-label="Proposed rows">
      <table class="plain">
        <thead>
          <tr>
            <th>Use</th>
            <th>Channel</th>
            <th>Place</th>
            <th>Times</th>
            <th>Plus</th>
            <th>Unit</th>
            <th>Over time</th>
            <th>Sure</th>
            <th>Why</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row, at) => (
            <tr key={at}>
              <td>
                <input
                  type="checkbox"
                  aria-label={`Use ${row.name}`}
                  checked={ticked.has(at)}
                  onChange={(event) => tick(at, event.currentTarget.checked)}
                />
              </td>
              <td>
                <input
                  type="text"
                  aria-label={`Channel of row ${at + 1}`}
                  value={row.name}
                  onChange={(event) => edit(at, named(event.currentTarget.value))}
                />
              </td>
              <td>
                {row.identifier}
                {row.selector_value === undefined ? '' : `, selector ${row.selector_value}`}, bit{' '}
                {row.start_bit}, {row.length} bits, {row.byte_order}
                {row.signed ? ', signed' : ''}
              </td>
              <td>
                <NumberField
                  name={`Factor of ${row.name}`}
                  value={row.factor}
                  set={(factor) => edit(at, { factor })}
                />
              </td>
              <td>
                <NumberField
                  name={`Offset of ${row.name}`}
                  value={row.offset}
                  set={(offset) => edit(at, { offset })}
                />
              </td>
              <td>{row.unit}</td>
              <td>
                <Preview row={row} />
              </td>
              <td>{(100 * row.sureness).toFixed(0)} %</td>
              <td>
                {row.why}
                {row.otherwise ? `; else ${row.otherwise}` : ''}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  )
}

/** A name of the catalogue is the channel; of another one the program asks the words, as of any signal. */
function named(name: string): Change {
  const known = CATALOGUE.some(({ id }) => id === name.replace(/\.\d+$/, ''))
  return { name, channel: known ? name : undefined }
}

function NumberField({ name, value, set }: { name: string; value: number; set: (value: number) => void }) {
  return (
    <input
      type="number"
      step="any"
      aria-label={name}
      value={value}
      onChange={(event) => {
        const given = event.currentTarget.valueAsNumber
        if (Number.isFinite(given)) set(given)
      }}
    />
  )
}

const WIDE = 140
const HIGH = 34

/** The row's values over the capture, as its factor and offset make them, with the lowest and highest. */
function Preview({ row }: { row: ProposedRow }) {
  const values = row.preview.map((raw) => (raw === null ? null : raw * row.factor + row.offset))
  const known = values.filter((value): value is number => value !== null)
  if (known.length < 2) return null
  const low = Math.min(...known)
  const high = Math.max(...known)
  const span = high - low || 1
  const points = values.flatMap((value, at) =>
    value === null
      ? []
      : [
          `${((at / (values.length - 1)) * WIDE).toFixed(1)},${(HIGH - 2 - ((value - low) / span) * (HIGH - 4)).toFixed(1)}`,
        ],
  )
  const text = `${row.name} from ${Number(low.toPrecision(4))} to ${Number(high.toPrecision(4))} ${row.unit}`
  return (
    <>
      <svg width={WIDE} height={HIGH} viewBox={`0 0 ${WIDE} ${HIGH}`} role="img" aria-label={text}>
        <polyline points={points.join(' ')} fill="none" stroke="currentColor" />
      </svg>
      <small>
        {Number(low.toPrecision(4))} … {Number(high.toPrecision(4))} {row.unit}
      </small>
    </>
  )
}

/** The ticked rows as a signal table. */
function tableFile(rows: readonly ProposedRow[]): File {
  const signals = rows.map(({ sureness: _s, why: _w, otherwise: _o, preview: _p, ...row }) => row)
  return signalsFile({ signals })
}
