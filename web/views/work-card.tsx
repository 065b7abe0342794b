import { useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { TOUCH_V } from '../../shared/limits.ts'
import type { Review } from '../../shared/review.ts'
import { knownWords, numberText, onceInFull, sentence } from '../../shared/wording.ts'
import { load } from '../actions.ts'
import { saveNotes } from '../api.ts'
import { fail } from '../state.ts'

type Row = Review['check_sheet'][number]

const LINK = 'Link voltage, + to − at the inverter'

/** Volts as typed, comma or point, with or without the unit; null where it is no number. */
export function voltsTyped(text: string): number | null {
  const plain = text.trim().replace(/\s*V$/i, '').replace(',', '.').replace('−', '-')
  return /^-?\d+(\.\d+)?$/.test(plain) ? Math.abs(Number(plain)) : null
}

/**
 * What to check, in this order, with a place for each reading. The link comes first; what lies at high voltage stays
 * closed until it reads under 60 V. What the log answers already stands last, crossed off.
 */
export function WorkCard({ drive }: { drive: DriveAnswer }) {
  const rows = drive.review.check_sheet
  const [link, setLink] = useState('')
  const [readings, setReadings] = useState<Readonly<Record<number, string>>>({})
  const [said, setSaid] = useState('')
  if (rows.length === 0) return null
  const volts = voltsTyped(link)
  const low = volts !== null && volts < TOUCH_V
  const open = rows.filter((row) => row.known === null)
  const told = rows.filter((row) => row.known !== null)
  const cautions = new Set<string>()
  const keep = async () => {
    const lines = [
      ...(link.trim() === '' ? [] : [`${LINK}: ${withUnit(link)}`]),
      ...open.flatMap((row, at) =>
        readings[at]?.trim() ? [`${sentence(row.what)} Reading: ${readings[at]}`] : [],
      ),
    ]
    const day = new Date().toISOString().slice(0, 16).replace('T', ' ')
    try {
      const before = drive.notes.trim()
      await saveNotes(
        drive.summary.id,
        `${before}${before === '' ? '' : '\n\n'}Readings, ${day}\n${lines.join('\n')}`,
      )
      await load(drive.summary.id)
      setSaid('Kept with the notes of this drive; the sheet prints them.')
    } catch (error) {
      fail(error)
    }
  }
  return (
    <section class="panel work-card" aria-labelledby="card-title">
      <h2 id="card-title">What to check, in this order</h2>
      <ol>
        <li class="work-row work-first">
          <div>
            <h3>Wait the maker’s time, then measure the link</h3>
            <p>
              Between + and − of the link, at the inverter. Write the reading down: what lies at high voltage
              opens below {TOUCH_V} V.
            </p>
            <p role="status" class={volts !== null && !low ? 'complaint' : ''}>
              {linkText(link, volts)}
            </p>
          </div>
          <label class="reading">
            <span class="unseen">{LINK}</span>
            <input
              inputMode="decimal"
              value={link}
              onInput={(event) => {
                setLink(event.currentTarget.value)
                setSaid('')
              }}
            />{' '}
            V
          </label>
        </li>
        {open.map((row, at) => (
          <OpenRow
            key={row.what}
            row={row}
            number={at + 1}
            closed={row.cautions.length > 0 && !low}
            cautions={row.cautions.map((each) => onceInFull(each, cautions))}
            reading={readings[at] ?? ''}
            onRead={(text) => {
              setReadings({ ...readings, [at]: text })
              setSaid('')
            }}
          />
        ))}
        {told.map((row) => (
          <li key={row.what} class="work-row work-known">
            <div>
              <h3>
                <s>{sentence(row.what)}</s>
              </h3>
              <p>{knownWords(row.known ?? '')}</p>
            </div>
          </li>
        ))}
      </ol>
      <div class="tool-row">
        <button
          type="button"
          disabled={link.trim() === '' && Object.values(readings).every((text) => text.trim() === '')}
          onClick={keep}
        >
          Keep the readings with this drive
        </button>
        <span role="status">{said}</span>
      </div>
    </section>
  )
}

const withUnit = (text: string) => (/[a-z]$/i.test(text.trim()) ? text.trim() : `${text.trim()} V`)

function linkText(text: string, volts: number | null): string {
  if (text.trim() === '') return ''
  if (volts === null) return 'Not a number yet: such as 12.5.'
  if (volts < TOUCH_V)
    return `${numberText(volts)} V: the rows at high voltage are open. Each keeps its own cautions.`
  return `${numberText(volts)} V: over ${TOUCH_V} V is high voltage. Wait on, and measure again.`
}

function OpenRow({
  row,
  number,
  closed,
  cautions,
  reading,
  onRead,
}: {
  row: Row
  number: number
  closed: boolean
  cautions: readonly string[]
  reading: string
  onRead: (text: string) => void
}) {
  return (
    <li class={`work-row ${closed ? 'work-closed' : ''}`}>
      <div>
        <h3>
          {number}. {sentence(row.what)}
        </h3>
        {closed ? (
          <p class="soft">At high voltage: opens when the link reads under {TOUCH_V} V.</p>
        ) : (
          <dl>
            <dt>With</dt>
            <dd>{sentence(row.instrument)}</dd>
            <dt>Expect</dt>
            <dd>{sentence(row.expect)}</dd>
            <dt>It tells</dt>
            <dd>{sentence(row.tells)}</dd>
          </dl>
        )}
        {cautions.length === 0 ? null : (
          <ul class="check-cautions" aria-label="Take care">
            {cautions.map((caution) => (
              <li key={caution}>{caution}</li>
            ))}
          </ul>
        )}
      </div>
      <label class="reading">
        <span class="unseen">Reading of row {number}</span>
        <input value={reading} disabled={closed} onInput={(event) => onRead(event.currentTarget.value)} />
      </label>
    </li>
  )
}
