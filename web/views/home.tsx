import { useState } from 'preact/hooks'
import type { DriveSummary } from '../../shared/api.ts'
import { distanceText, lengthText } from '../../shared/wording.ts'
import { follow, refresh } from '../actions.ts'
import { openSample, removeDrive } from '../api.ts'
import { DOORS, type Door } from '../doors.ts'
import { DropLogs } from '../parts/drop-logs.tsx'
import { FindDrives, useFound } from '../parts/find-drives.tsx'
import { SeverityMark } from '../parts/severity-mark.tsx'
import { go, hrefOf, type View } from '../route.ts'
import { fail, state } from '../state.ts'
import { useStore } from '../store.ts'

/** Rows of stored drives at once: a list of thousands is not read, it is searched. */
const MOST_ROWS = 60

/** The first page: why you come, what that needs, and the drives that are stored. */
export function Home({ door }: { door: Door | undefined }) {
  const drives = useStore(state, (now) => now.drives)
  const samples = useStore(state, (now) => now.samples)
  const { wanted, setWanted, found } = useFound(drives)
  const [most, setMost] = useState(MOST_ROWS)
  const cars = groupByCar((found ?? []).slice(0, most))
  const more = (found?.length ?? 0) - most
  return (
    <main id="content" class="page" tabIndex={-1}>
      <h1>What brings you here?</h1>
      <Doors chosen={door} />
      {door ? <Needs door={door} /> : null}
      <DropLogs key={door?.name ?? ''} door={door} />
      <section aria-labelledby="stored">
        <h2 id="stored">Stored drives</h2>
        {drives === null ? <p>Reading the list …</p> : null}
        {drives?.length === 0 ? (
          <p>None yet. Drop the logs of a drive above, or open a sample drive to look around.</p>
        ) : null}
        <FindDrives
          stored={drives?.length ?? 0}
          found={found?.length ?? 0}
          wanted={wanted}
          onWanted={(next) => {
            setWanted(next)
            setMost(MOST_ROWS)
          }}
        />
        {cars.map(([car, all]) => (
          <section key={car} class="car" aria-label={car}>
            <h3>{all[0]?.car ? <a href={hrefOf({ page: 'car', car })}>{car}</a> : car}</h3>
            <ul class="drive-list">
              {all.map((drive) => (
                <DriveRow key={drive.id} drive={drive} view={door?.view ?? 'findings'} />
              ))}
            </ul>
          </section>
        ))}
        {more > 0 ? (
          <button type="button" onClick={() => setMost(most + MOST_ROWS)}>
            Show {Math.min(more, MOST_ROWS)} more of {more}
          </button>
        ) : null}
      </section>
      {samples.length > 0 ? (
        <section aria-labelledby="samples">
          <h2 id="samples">Sample drives</h2>
          <p>Made by a simulator, of an invented workshop’s cars. Open one to look around.</p>
          <ul class="button-row">
            {samples.map((sample) => (
              <li key={sample.id}>
                <button
                  type="button"
                  class="large"
                  onClick={() => takeSample(sample.id, door?.view ?? 'findings')}
                >
                  {sample.title} <small>{sample.about}</small>
                </button>
              </li>
            ))}
          </ul>
        </section>
      ) : null}
    </main>
  )
}

function Doors({ chosen }: { chosen: Door | undefined }) {
  return (
    <nav aria-label="Why you come">
      <ul class="doors">
        {DOORS.map((door) => (
          <li key={door.name}>
            <a
              class="door"
              href={hrefOf({ page: 'home', door: door.name })}
              aria-current={door === chosen ? 'true' : undefined}
            >
              <strong>{door.title}</strong>
              <span>{door.tells}</span>
            </a>
          </li>
        ))}
      </ul>
    </nav>
  )
}

/** What the door needs, and what it costs where that is missing. */
function Needs({ door }: { door: Door }) {
  return (
    <section class="panel needs" aria-labelledby="needs-title">
      <h2 id="needs-title">What this needs</h2>
      <dl>
        <dt>Logs</dt>
        <dd>{door.logs}</dd>
        <dt>{door.vehicle.what}</dt>
        <dd>{door.vehicle.costs} It can also be typed in afterwards, under Vehicle.</dd>
        <dt>{door.signals.what}</dt>
        <dd>{door.signals.costs}</dd>
      </dl>
    </section>
  )
}

function DriveRow({ drive, view }: { drive: DriveSummary; view: View }) {
  const files = drive.files.map((file) => file.name).join(', ')
  const started = drive.started_at?.slice(0, 16).replace('T', ' ') ?? null
  // A title that only says the car (and the day) is said by the heading already.
  const plain = drive.started_at === null ? drive.car : `${drive.car}, ${drive.started_at.slice(0, 10)}`
  const ownTitle = drive.car === null || (drive.title !== drive.car && drive.title !== plain)
  const facts = [
    ownTitle ? (started ?? (files.startsWith(drive.title) ? null : files)) : started === null ? null : files,
    lengthText(drive.duration_s),
    distanceText(drive.distance_km),
    `stored ${drive.added_at.slice(0, 10)}`,
  ].filter((fact) => fact !== null)
  return (
    <li class="drive-row">
      <a href={hrefOf({ page: 'drive', id: drive.id, view, item: '' })}>
        <strong>
          {drive.car === null ? null : <span class="unseen">{drive.car}: </span>}
          {ownTitle ? drive.title : (started ?? files)}
        </strong>
        {(drive.verdict?.sentence ?? drive.worst) ? (
          <span class="row-verdict">{drive.verdict?.sentence ?? drive.worst}</span>
        ) : null}
        <span class="facts">{facts.join(' · ')}</span>
      </a>
      <Counts drive={drive} />
      <button type="button" class="quiet" aria-label={`Remove ${drive.title}`} onClick={() => remove(drive)}>
        Remove
      </button>
    </li>
  )
}

export function Counts({ drive }: { drive: DriveSummary }) {
  const shown = (['stop', 'attention', 'note'] as const).filter((kind) => drive[kind] > 0)
  const little = (drive.unseen ?? []).length > 0
  return (
    <span class="counts">
      {shown.map((kind) => (
        <span key={kind} class="count">
          {drive[kind]} <SeverityMark kind={kind} />
        </span>
      ))}
      {shown.length === 0 && !little ? <SeverityMark kind="nothing-found" /> : null}
      {little ? <span>Too little assessed</span> : null}
      {drive.not_assessed > 0 ? (
        <span class="count">
          {drive.not_assessed} <SeverityMark kind="not-assessed" />
        </span>
      ) : null}
    </span>
  )
}

function groupByCar(drives: readonly DriveSummary[]): [string, DriveSummary[]][] {
  const cars = new Map<string, DriveSummary[]>()
  for (const drive of drives) {
    const car = drive.car ?? 'Car not named'
    cars.set(car, [...(cars.get(car) ?? []), drive])
  }
  return [...cars]
}

async function takeSample(id: string, view: View): Promise<void> {
  try {
    const drive = await follow(await openSample(id))
    if (drive === null) return
    await refresh()
    go({ page: 'drive', id: drive, view, item: '' })
  } catch (error) {
    fail(error)
  }
}

async function remove(drive: DriveSummary): Promise<void> {
  if (!confirm(`Remove "${drive.title}" and its stored logs from this computer?`)) return
  try {
    await removeDrive(drive.id)
    await refresh()
  } catch (error) {
    fail(error)
  }
}
