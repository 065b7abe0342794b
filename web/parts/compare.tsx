import { useState } from 'preact/hooks'
import type { Comparison, DriveAnswer, DriveSummary } from '../../shared/api.ts'
import type { Finding } from '../../shared/review.ts'
import { numberText, withInterval } from '../../shared/wording.ts'
import { compare } from '../api.ts'
import { fail, state } from '../state.ts'
import { useStore } from '../store.ts'
import { figureHeadings, ScrollTable } from './scroll-table.tsx'
import { SeverityMark } from './severity-mark.tsx'

/** This drive against an earlier one of the same car: did the work help? Drives of the same car alone are offered. */
export function Compare({ drive }: { drive: DriveAnswer }) {
  const drives = useStore(state, (now) => now.drives) ?? []
  const [found, setFound] = useState<Comparison | null>(null)
  const { car, id } = drive.summary
  const others = drives.filter((other) => other.car !== null && other.car === car && other.id !== id)
  if (others.length === 0) return null
  const look = (before: string) => {
    if (before === '') setFound(null)
    else compare(id, before).then(setFound, fail)
  }
  return (
    <section aria-labelledby="compare-title">
      <h2 id="compare-title">Against another drive of this car</h2>
      <label class="field">
        Before
        <select onChange={(event) => look(event.currentTarget.value)}>
          <option value="">choose a drive</option>
          {others.map((other) => (
            <option key={other.id} value={other.id}>
              {nameOf(other)}
            </option>
          ))}
        </select>
      </label>
      {found ? <Changes found={found} /> : null}
    </section>
  )
}

const nameOf = ({ title, added_at, files }: DriveSummary) =>
  `${title}, ${files[0]?.name ?? ''}, stored ${added_at.slice(0, 16).replace('T', ' ')}`

const CELLS_SHOWN = 8

/** A change in units of the interval of the change. */
const howFar = ({ change, plus_minus }: Comparison['figures'][number]) =>
  change === null || !plus_minus ? 0 : Math.abs(change) / plus_minus

function Changes({ found }: { found: Comparison }) {
  const ofCells = found.figures.filter(({ what }) => what.startsWith('Cell '))
  const changed = ofCells.filter(({ certain }) => certain).sort((a, b) => howFar(b) - howFar(a))
  const whole = found.figures.filter(({ what }) => !what.startsWith('Cell '))
  const figures = [...whole, ...changed.slice(0, CELLS_SHOWN)]
  return (
    <>
      <FindingList title="No longer found" findings={found.gone} />
      <FindingList title="New" findings={found.came} />
      <FindingList title="Still found" findings={found.stayed.map(({ after }) => after)} />
      <ScrollTable
        label="Figures before and after"
        headings={[
          { text: 'Figure' },
          ...figureHeadings('Before', 'This drive', 'Change'),
          { text: 'Beyond both intervals?' },
        ]}
      >
        {figures.map((row) => (
          <tr key={row.what}>
            <th scope="row">{row.what}</th>
            <td class="num">{withUnit(row.before, row.unit)}</td>
            <td class="num">{withUnit(row.after, row.unit)}</td>
            <td class="num">
              {row.change === null ? '–' : withInterval(row.change, row.plus_minus, row.unit)}
            </td>
            <td>{row.certain === null ? 'cannot be told' : row.certain ? 'yes' : 'no'}</td>
          </tr>
        ))}
      </ScrollTable>
      <SamePressure rows={found.same_pressure} />
      {found.notes.map((note) => (
        <p key={note} class="soft">
          {note}
        </p>
      ))}
      {ofCells.length === 0 ? null : (
        <p class="soft">
          {changed.length} of {ofCells.length} figures of cells changed beyond both intervals; the clearest{' '}
          {Math.min(CELLS_SHOWN, changed.length)} are listed. Resistance also follows temperature and state of
          charge.
        </p>
      )}
    </>
  )
}

const withUnit = (value: number | null, unit: string) =>
  value === null ? '–' : `${numberText(value)} ${unit}`.trim()

/** The same press in both drives: what a change of the map did, whatever the route. */
function SamePressure({ rows }: { rows: Comparison['same_pressure'] }) {
  if (rows.length === 0) return null
  return (
    <>
      <h3>Stops at the same pressure</h3>
      <ScrollTable
        label="Stops at the same pressure"
        headings={figureHeadings(
          'Peak pressure, bar',
          'Regeneration before, N·m',
          'Regeneration, this drive, N·m',
          'Deceleration before, m/s²',
          'Deceleration, this drive, m/s²',
        )}
      >
        {rows.map((row) => (
          <tr key={row.bar}>
            <td class="num">{numberText(row.bar)}</td>
            <td class="num">{numberText(row.before_nm)}</td>
            <td class="num">{numberText(row.after_nm)}</td>
            <td class="num">{numberText(row.before_ms2)}</td>
            <td class="num">{numberText(row.after_ms2)}</td>
          </tr>
        ))}
      </ScrollTable>
    </>
  )
}

function FindingList({ title, findings }: { title: string; findings: readonly Finding[] }) {
  if (findings.length === 0) return null
  return (
    <>
      <h3>{title}</h3>
      <ul class="plain-list marked-list">
        {findings.map((finding, at) => (
          <li key={at}>
            <SeverityMark kind={finding.severity} /> {finding.headline}
          </li>
        ))}
      </ul>
    </>
  )
}
