import { useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { catalogueEntry, channelLabel, channelNumber } from '../../shared/channels.ts'
import type { Review } from '../../shared/review.ts'
import { lengthText, numberText, sentence } from '../../shared/wording.ts'
import { CorrectColumn } from './correct-column.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { PlaceLog } from './place-log.tsx'

type Row = Review['channels'][number]

/** How each column was understood, how surely, and why; a wrong one is put right here. */
export function Channels({ drive }: ViewProps) {
  const [words, setWords] = useState('')
  const [open, setOpen] = useState<string | null>(null)
  const wanted = words.trim().toLowerCase()
  const rows = drive.review.channels.filter((row) =>
    `${row.id} ${channelLabel(row.id)} ${row.from} ${row.why}`.toLowerCase().includes(wanted),
  )
  const doubtful = rows.filter((row) => catalogueEntry(row.id) && row.sureness < 0.6)
  const named = rows.filter((row) => catalogueEntry(row.id) && row.sureness >= 0.6)
  const left = rows.filter((row) => !catalogueEntry(row.id))
  const row = (each: Row) => (
    <ChannelRow
      key={each.from}
      row={each}
      drive={drive}
      open={open === each.from}
      toggle={() => setOpen(open === each.from ? null : each.from)}
    />
  )
  const group = (title: string, all: readonly Row[], words: string) =>
    all.length === 0 ? null : (
      <section>
        <h2>
          {title} <span class="number">{all.length}</span>
        </h2>
        <p class="soft">{words}</p>
        <ul class="channel-list">
          {families(all).map(([family, members]) =>
            members.length < 4 ? (
              members.map(row)
            ) : (
              <li key={family} class="channel-row">
                <details open={wanted !== ''}>
                  <summary>
                    {catalogueEntry(members[0]!.id)?.label ?? family} {channelNumber(members[0]!.id)} to{' '}
                    {channelNumber(members.at(-1)!.id)}{' '}
                    <span class="soft">
                      {members.length} columns, {leastSure(members)} % sure or more
                    </span>
                  </summary>
                  <ul>{members.map(row)}</ul>
                </details>
              </li>
            ),
          )}
        </ul>
      </section>
    )
  return (
    <>
      <h1>How the columns were understood</h1>
      <label class="field">
        Find a column or channel
        <input type="search" value={words} onInput={(event) => setWords(event.currentTarget.value)} />
      </label>
      {group(
        'Doubtful',
        doubtful,
        'Look at these first: their names or values leave room for another reading.',
      )}
      {group('Understood', named, 'Each with the sentence that says why.')}
      {group(
        'Kept under their own names',
        left,
        'No known channel fits. They can be charted; no question uses them.',
      )}
      {rows.length === 0 ? <p>No column matches.</p> : null}
      <Files drive={drive} />
    </>
  )
}

/** Numbered channels of one sort together, in the order of the log. */
function families(rows: readonly Row[]): [string, Row[]][] {
  const out = new Map<string, Row[]>()
  for (const row of rows) {
    const numbered = channelNumber(row.id) > 0 && catalogueEntry(row.id)?.numbered
    const key = numbered ? row.id.slice(0, row.id.lastIndexOf('.')) : row.from
    out.set(key, [...(out.get(key) ?? []), row])
  }
  return [...out]
}

const leastSure = (rows: readonly Row[]) => Math.round(100 * Math.min(...rows.map((row) => row.sureness)))

function ChannelRow({
  row,
  drive,
  open,
  toggle,
}: {
  row: Row
  drive: DriveAnswer
  open: boolean
  toggle: () => void
}) {
  const column = columnOf(row.from)
  const known = catalogueEntry(row.id)
  return (
    <li class="channel-row">
      <div class="channel-line">
        <div class="channel-names">
          <strong>{known ? channelLabel(row.id) : 'no known channel'}</strong>
          <span class="soft">from {row.from}</span>
        </div>
        <Sureness value={row.sureness} known={known !== undefined} />
        <span class="soft tabular channel-facts">{factsOf(row)}</span>
        <button
          type="button"
          class="inline"
          aria-expanded={open}
          onClick={toggle}
          aria-label={`Correct ${column}`}
        >
          Correct
        </button>
      </div>
      <p class="soft why">{sentence(row.why)}</p>
      {open ? <CorrectColumn key={row.from} row={row} drive={drive} column={column} /> : null}
    </li>
  )
}

/** `file: column` → column. */
const columnOf = (from: string) => from.slice(from.indexOf(': ') + 2)

function factsOf(row: Row): string {
  const facts = [
    row.unit_in !== null ? `in ${row.unit_in}` : row.conversion.startsWith('none (') ? '' : 'no unit given',
    row.conversion.replace(/^none( \((.*)\))?$/, '$2'),
    `${row.samples.toLocaleString('en').replaceAll(',', ' ')} samples`,
    row.rate_hz === null ? '' : `${numberText(row.rate_hz)} Hz`,
    row.gaps.length === 0
      ? ''
      : `${row.gaps.length} gaps, ${lengthText(row.gaps.reduce((sum, [a, b]) => sum + b - a, 0))}`,
  ]
  return facts.filter(Boolean).join(' · ')
}

function Sureness({ value, known }: { value: number; known: boolean }) {
  if (!known) return <span class="sureness soft">left over</span>
  const word = value >= 0.85 ? 'sure' : value >= 0.6 ? 'fairly sure' : 'doubtful'
  return (
    <span class="sureness">
      <span class="sure-bar" aria-hidden="true">
        <span style={{ width: `${Math.round(value * 100)}%` }} />
      </span>
      <span class="tabular">
        {word}, {Math.round(value * 100)} %
      </span>
    </span>
  )
}

function Files({ drive }: { drive: DriveAnswer }) {
  return (
    <section>
      <h2>Files</h2>
      <ul class="channel-list">
        {drive.review.drive.files.map((file, at) => (
          <li key={file.sha256 + file.name} class="channel-row">
            <strong>{file.name}</strong>
            <p>
              {file.layout}, {file.rows} rows. Clock: {file.clock.found_from}
              {file.clock.offset_s === 0 && file.clock.drift_ppm === 0
                ? ''
                : `; shifted by ${numberText(file.clock.offset_s, 5)} s${file.clock.plus_minus_s === null ? '' : ` ± ${numberText(file.clock.plus_minus_s, 2)} s`}, drift ${numberText(file.clock.drift_ppm)} millionths`}
              .
            </p>
            {file.skipped.map((skipped) => (
              <p key={skipped.what}>
                Left out: {skipped.count} × {skipped.what} (first: {skipped.first})
              </p>
            ))}
            <p class="hash soft">SHA-256 {file.sha256}</p>
            {at === 0 ? null : <PlaceLog drive={drive} at={at} name={file.name} />}
          </li>
        ))}
      </ul>
      {drive.review.assumptions.length > 0 ? (
        <>
          <h2>Assumed or learned</h2>
          <ul class="plain-list">
            {drive.review.assumptions.map(({ what, value, unit, source }, at) => (
              <li key={at}>
                {sentence(what).replace(/\.$/, '')}
                {value === null
                  ? ''
                  : `: ${typeof value === 'number' ? numberText(value, 4) : value}${unit ? ` ${unit}` : ''}`}{' '}
                <span class="soft">({source})</span>
              </li>
            ))}
          </ul>
        </>
      ) : null}
    </section>
  )
}
