import { useEffect } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import type { PrechargeRow, Start as StartRow } from '../../shared/review.ts'
import { clockText, lengthText, sentence, stepInSentence, stepWord } from '../../shared/wording.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { choose } from '../route.ts'
import { showSpan } from '../state.ts'
import { CheckSheet } from './check-sheet.tsx'
import { IsolationFigures } from './drive-figures.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { PrechargeChart } from './precharge-chart.tsx'

const KINDS =
  /^(no-drive|precharge|link|contactor|inertia|interlock|charge-plug|selector|lv-|isolation|drive-lost|dcdc)/

const REACHED: Readonly<Record<StartRow['reached'], string>> = {
  unknown: 'How far it came cannot be told from these logs',
  off: 'Nothing came on',
  waiting: 'It waited: no contactor closed',
  precharge: 'It came as far as precharge',
  contactors: 'The contactors closed; drive was not ready',
  ready: 'It became ready to drive',
  driving: 'It started and drove',
}

/** Each attempt to start: the chain as a row of steps, and the precharge curve. */
export function Start({ drive, item }: ViewProps) {
  const { starts, precharge } = drive.review
  const chosen = Math.min(Math.max(0, Number(item) || 0), Math.max(0, starts.length - 1))
  const start = starts[chosen]
  const [from, to] = start?.span_s ?? [0, 1]
  const run = precharge.find((row) => row.span_s[0] < to + 1 && row.span_s[1] > from - 1)
  useEffect(() => {
    if (start) showSpan([from - 1, Math.min(to, from + 20) + 1])
  }, [start, from, to])
  return (
    <>
      <h1>Start</h1>
      <FoundHere drive={drive} kinds={KINDS} />
      {start ? (
        <>
          <ul class="button-row" aria-label="Attempts to start">
            {starts.map((each, at) => (
              <li key={each.span_s[0]}>
                <button type="button" aria-pressed={at === chosen} onClick={() => choose(String(at))}>
                  Attempt {at + 1} at {clockText(each.span_s[0])}
                </button>
              </li>
            ))}
          </ul>
          <p class="lead">
            {start.first_failed
              ? `The first step that failed: ${stepInSentence(start.first_failed)}.`
              : `${REACHED[start.reached]}.`}
          </p>
          <Chain start={start} />
          {run ? <Precharge drive={drive} run={run} /> : <p>No precharge was seen in this attempt.</p>}
          <ChartTools />
          <ChartStack drive={drive} charts={CHARTS.map((ids) => channelsOf(drive, ids))} height={120} />
        </>
      ) : (
        <NotHere
          drive={drive}
          areas={['start']}
          asks={/^Which step/}
          what="No attempt to start is in this log."
        />
      )}
      <IsolationFigures isolation={drive.review.isolation} />
      <CheckSheet rows={drive.review.check_sheet} />
      <AskedHere drive={drive} areas={['start', 'isolation']} />
    </>
  )
}

const STATES = {
  held: 'held',
  failed: 'failed',
  unseen: 'cannot be seen',
} as const

function Chain({ start }: { start: StartRow }) {
  return (
    <ol class="chain">
      {start.steps.map((step) => {
        const kind = step.held === null ? 'unseen' : step.held ? 'held' : 'failed'
        const first = step.name === start.first_failed
        return (
          <li key={step.name} class={`step step-${kind} ${first ? 'step-first' : ''}`}>
            <span class="step-name">{stepWord(step.name)}</span>
            <span class="step-state">
              <StepShape kind={kind} /> {STATES[kind]}
            </span>
            <span class="tabular soft">
              {step.at_s === null
                ? ''
                : `${clockText(step.at_s, true)}, ${after(step.at_s - start.span_s[0])}`}
            </span>
            {step.earlier ? (
              <span class="tabular soft">
                took {step.earlier.took_s.toFixed(2)} s, earlier {step.earlier.median_s.toFixed(2)} s (
                {step.earlier.low_s.toFixed(2)} to {step.earlier.high_s.toFixed(2)})
              </span>
            ) : null}
            <span class="step-why">{sentence(step.why)}</span>
          </li>
        )
      })}
    </ol>
  )
}

/** How long after the attempt began. */
const after = (seconds: number) => (seconds < 0.05 ? 'at once' : `${lengthText(seconds)} on`)

function StepShape({ kind }: { kind: keyof typeof STATES }) {
  return (
    <svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true">
      {kind === 'held' ? (
        <path d="M2.5 9.5 7 14 15.5 4" fill="none" stroke="currentColor" stroke-width="3" />
      ) : kind === 'failed' ? (
        <path d="M3 3l12 12M15 3 3 15" stroke="currentColor" stroke-width="3.4" />
      ) : (
        <circle
          cx="9"
          cy="9"
          r="6.5"
          fill="none"
          stroke="currentColor"
          stroke-width="2"
          stroke-dasharray="3 2.4"
        />
      )}
    </svg>
  )
}

function Precharge({ drive, run }: { drive: DriveAnswer; run: PrechargeRow }) {
  const from = { curve: 'the whole curve', 'end-value': 'its end value', duration: 'its length alone' }[
    run.assessed_from
  ]
  return (
    <section class="panel" aria-labelledby="precharge-title">
      <h2 id="precharge-title">Precharge</h2>
      <p>
        Read from {from}; {run.samples_in_rise} samples in the rise.{run.note ? ` ${run.note}.` : ''}
      </p>
      <FiguresList
        figures={[
          {
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
