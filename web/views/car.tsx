import { useEffect, useState } from 'preact/hooks'
import { type CarAnswer, PAPER_WORDS, PAPERS } from '../../shared/car-answer.ts'
import { NOTICE } from '../../shared/review.ts'
import { distanceText, numberText } from '../../shared/wording.ts'
import { openCar } from '../api.ts'
import { BeforeTouching } from '../parts/before-touching.tsx'
import { hrefOf } from '../route.ts'
import { fail } from '../state.ts'
import { CarBring } from './car-bring.tsx'
import { CarFinding } from './car-finding.tsx'
import { CarTable } from './car-table.tsx'
import { MapsTried } from './maps-tried.tsx'

/** A car's record: the last drive's verdict, its findings with what became of them, what was kept of it, its papers. */
export function Car({ car }: { car: string }) {
  const [answer, setAnswer] = useState<CarAnswer | null>(null)
  useEffect(() => {
    document.title = `${car} – Aftermile`
    setAnswer(null)
    openCar(car).then(setAnswer).catch(fail)
  }, [car])
  if (answer === null)
    return (
      <main id="content" class="page" tabIndex={-1}>
        <h1>Opening the car …</h1>
      </main>
    )
  const stands = answer.findings.filter((each) => each.stands)
  const gone = answer.findings.filter((each) => !each.stands)
  return (
    <>
      <main id="content" class="page page-car" tabIndex={-1}>
        <h1>{answer.car}</h1>
        <p class="facts">
          {answer.kit ? `Kit ${answer.kit} · ` : ''}
          {answer.drives.length} stored {answer.drives.length === 1 ? 'drive' : 'drives'}
        </p>
        {answer.verdict ? (
          <section class="panel" aria-labelledby="verdict">
            <h2 id="verdict">The last drive: {answer.verdict.title}</h2>
            <BeforeTouching verdict={answer.verdict} />
            <p class="verdict">{answer.verdict.sentence}</p>
            <p>
              <a href={hrefOf({ page: 'drive', id: answer.verdict.drive, view: 'findings', item: '' })}>
                Open this drive
              </a>
            </p>
          </section>
        ) : null}
        {answer.troubles.map((each) => (
          <p key={each}>{each}</p>
        ))}
        <Papers car={answer.car} />
        <Findings title="In the last drive" lines={stands} answer={answer} onChange={setAnswer} />
        <Findings title="Not found in the last drive" lines={gone} answer={answer} onChange={setAnswer} />
        <Cautions lines={stands} />
        <MapsTried maps={answer.maps} />
        <CarBring answer={answer} onChange={setAnswer} />
        <CarTable car={answer.car} name="drives" title="Figures over the drives" />
        {answer.kit ? (
          <CarTable car={answer.car} name="kit" title={`Beside the other cars of ${answer.kit}`} />
        ) : null}
        <Drives answer={answer} />
      </main>
      <footer class="notice">{NOTICE}</footer>
    </>
  )
}

function Papers({ car }: { car: string }) {
  return (
    <section aria-labelledby="papers">
      <h2 id="papers">Papers</h2>
      <ul class="button-row">
        {PAPERS.map((name) => (
          <li key={name}>
            <a
              class="button"
              href={`/api/cars/${encodeURIComponent(car)}/papers/${name}`}
              target="_blank"
              rel="noreferrer"
            >
              {PAPER_WORDS[name]} <small>to print</small>
            </a>
          </li>
        ))}
      </ul>
    </section>
  )
}

function Findings({
  title,
  lines,
  answer,
  onChange,
}: {
  title: string
  lines: CarAnswer['findings']
  answer: CarAnswer
  onChange: (answer: CarAnswer) => void
}) {
  if (lines.length === 0) return null
  return (
    <section aria-label={title}>
      <h2>{title}</h2>
      {lines.map((each) => (
        <CarFinding key={each.id} line={each} answer={answer} onChange={onChange} />
      ))}
    </section>
  )
}

/** Each caution of what is told above by its name, once in full. */
function Cautions({ lines }: { lines: CarAnswer['findings'] }) {
  const all = [...new Set(lines.flatMap(({ cautions }) => cautions))]
  if (all.length === 0) return null
  return (
    <section aria-labelledby="care">
      <h2 id="care">Take care</h2>
      <ul>
        {all.map((each) => (
          <li key={each}>{each}</li>
        ))}
      </ul>
    </section>
  )
}

function Drives({ answer: { drives, record } }: { answer: CarAnswer }) {
  return (
    <section aria-labelledby="car-drives">
      <h2 id="car-drives">Drives</h2>
      <ul class="drive-list">
        {[...drives].reverse().map((drive) => (
          <li key={drive.id} class="drive-row">
            <a href={hrefOf({ page: 'drive', id: drive.id, view: 'findings', item: '' })}>
              <strong>{drive.started_at?.slice(0, 16).replace('T', ' ') ?? drive.title}</strong>
              <span class="row-verdict">{drive.verdict?.sentence ?? drive.worst ?? ''}</span>
              <span class="facts">{distanceText(drive.distance_km) ?? 'distance not known'}</span>
            </a>
          </li>
        ))}
      </ul>
      <p class="facts">
        Vehicle file: {numberText(record.vehicles.length)}{' '}
        {record.vehicles.length === 1 ? 'version' : 'versions'} kept
        {record.vehicles.length > 0 ? `, the last of ${record.vehicles.at(-1)!.at.slice(0, 10)}` : ''}.
      </p>
    </section>
  )
}
