import type { DriveSummary } from '../../shared/api.ts'
import { distanceText, lengthText } from '../../shared/wording.ts'
import { refresh } from '../actions.ts'
import { finish, openSample, removeDrive } from '../api.ts'
import { DropLogs } from '../parts/drop-logs.tsx'
import { SeverityMark } from '../parts/severity-mark.tsx'
import { go, hrefOf } from '../route.ts'
import { fail, state } from '../state.ts'
import { useStore } from '../store.ts'

/** The first page: drop a log, or take a stored drive. */
export function Home() {
  const drives = useStore(state, (now) => now.drives)
  const samples = useStore(state, (now) => now.samples)
  const cars = groupByCar(drives ?? [])
  return (
    <main id="content" class="page" tabIndex={-1}>
      <h1>What did the drive show?</h1>
      <DropLogs />
      <section aria-labelledby="stored">
        <h2 id="stored">Stored drives</h2>
        {drives === null ? <p>Reading the list …</p> : null}
        {drives?.length === 0 ? (
          <p>None yet. Drop the logs of a drive above, or open a sample drive to look around.</p>
        ) : null}
        {cars.map(([car, all]) => (
          <section key={car} class="car" aria-label={car}>
            <h3>{car}</h3>
            <ul class="drive-list">
              {all.map((drive) => (
                <DriveRow key={drive.id} drive={drive} />
              ))}
            </ul>
          </section>
        ))}
      </section>
      {samples.length > 0 ? (
        <section aria-labelledby="samples">
          <h2 id="samples">Sample drives</h2>
          <p>Made by a simulator, of an invented workshop’s cars. Open one to look around.</p>
          <ul class="button-row">
            {samples.map((sample) => (
              <li key={sample.id}>
                <button type="button" class="large" onClick={() => takeSample(sample.id)}>
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

function DriveRow({ drive }: { drive: DriveSummary }) {
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
      <a href={hrefOf({ page: 'drive', id: drive.id, view: 'findings', item: '' })}>
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

async function takeSample(id: string): Promise<void> {
  try {
    const drive = await finish(await openSample(id), ({ doing, share }) =>
      state.set({ busy: { doing, share } }),
    )
    state.set({ busy: null })
    await refresh()
    go({ page: 'drive', id: drive, view: 'findings', item: '' })
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
