import { useEffect } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import type { PrechargeRow, Start as StartRow } from '../../shared/review.ts'
import { clockText, stepInSentence } from '../../shared/wording.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import { BeforeTouching } from '../parts/before-touching.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { Fold } from '../parts/fold-line.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { choose } from '../route.ts'
import { showSpan } from '../state.ts'
import { IsolationFigures } from './drive-figures.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { Ladders } from './ladders.tsx'
import { PrechargeChart } from './precharge-chart.tsx'
import { Steps } from './steps-list.tsx'
import { WorkCard } from './work-card.tsx'

const REACHED: Readonly<Record<StartRow['reached'], string>> = {
  unknown: 'How far it came cannot be told from these logs',
  off: 'Nothing came on',
  waiting: 'It waited: no contactor closed',
  precharge: 'It came as far as precharge',
  contactors: 'The contactors closed; drive was not ready',
  ready: 'It became ready to drive',
  driving: 'It started and drove',
}

/** Attempts side by side with the work card beside them; what each step rests on, and the precharge curve. */
export function Start({ drive, item }: ViewProps) {
  const { starts, precharge, verdict, check_sheet } = drive.review
  const chosen = item === '' ? starts.length - 1 : Math.min(Math.max(0, Number(item) || 0), starts.length - 1)
  const start = starts[chosen]
  const [from, to] = start?.span_s ?? [0, 1]
  const run = precharge.find((row) => row.span_s[0] < to + 1 && row.span_s[1] > from - 1)
  useEffect(() => {
    if (start) showSpan([from - 1, Math.min(to, from + 20) + 1])
  }, [start, from, to])
  const stuck = verdict.state === 'cannot-drive'
  return (
    <>
      <BeforeTouching verdict={verdict} />
      <h1>{stuck ? verdict.sentence : 'Start'}</h1>
      <FoundHere drive={drive} view="start" />
      {start ? (
        <>
          <div class={check_sheet.length > 0 ? 'start-two' : ''}>
            <section class="panel" aria-labelledby="ladder-title">
              <h2 id="ladder-title">Attempts, and how far each came</h2>
              <Ladders
                starts={starts}
                precharge={precharge}
                chosen={chosen}
                onChoose={(at) => choose(String(at))}
              />
              <p class="lead">
                Attempt at {clockText(start.span_s[0])}:{' '}
                {start.first_failed
                  ? `${stepInSentence(start.first_failed)} is the first step that failed.`
                  : `${REACHED[start.reached]}.`}
              </p>
              <Fold words="What each step was read from">{() => <Steps steps={start.steps} />}</Fold>
              {run ? <Precharge drive={drive} run={run} /> : <p>No precharge was seen in this attempt.</p>}
            </section>
            <WorkCard drive={drive} />
          </div>
          <ChartTools />
          <ChartStack drive={drive} charts={CHARTS.map((ids) => channelsOf(drive, ids))} height={120} />
        </>
      ) : (
        <>
          <NotHere
            drive={drive}
            areas={['start']}
            asks={/^Which step/}
            what="No attempt to start is in this log."
          />
          <WorkCard drive={drive} />
        </>
      )}
      <IsolationFigures isolation={drive.review.isolation} />
      <AskedHere drive={drive} areas={['start', 'isolation']} />
    </>
  )
}

function Precharge({ drive, run }: { drive: DriveAnswer; run: PrechargeRow }) {
  const from = { curve: 'the whole curve', 'end-value': 'its end value', duration: 'its length alone' }[
    run.assessed_from
  ]
  return (
    <section aria-labelledby="precharge-title">
      <h3 id="precharge-title">Precharge</h3>
      <p>
        Read from {from}; {run.samples_in_rise} samples in the rise.{run.note ? ` ${run.note}.` : ''}
      </p>
      <FiguresList
        figures={[
          // a lower bound of nothing says nothing
          run.bound === 'at-least' && !((run.reached_percent ?? 0) > 0)
            ? { name: 'Reached at closing', value: null, unit: '%' }
            : {
                name: 'Reached at closing',
                value: run.reached_percent,
                plusMinus: run.reached_percent_plus_minus,
                unit: '%',
                bound: run.bound,
              },
          { name: 'Time constant', value: run.tau_s, plusMinus: run.tau_s_plus_minus, unit: 's' },
          {
            name: 'Load on the link',
            value: run.load_ohm,
            unit: 'Ω',
            note:
              run.load_ohm_low !== null && run.load_ohm_high !== null
                ? `${Math.round(run.load_ohm_low)} to ${Math.round(run.load_ohm_high)} Ω`
                : '',
          },
          { name: 'Energy in the resistor', value: run.energy_j, unit: 'J' },
        ]}
      />
      <PrechargeChart drive={drive} run={run} />
    </section>
  )
}

const CHARTS = [
  ['link_voltage', 'pack_voltage'],
  ['key_on', 'contactor_negative', 'contactor_precharge', 'contactor_positive', 'drive_ready'],
  ['interlock_closed', 'inertia_closed', 'charge_plug', 'brake_switch'],
  ['lv_voltage'],
  ['bms_state'],
  ['inverter_state'],
]
