import { useEffect } from 'preact/hooks'
import type { Charge as ChargeRow, ChargeSession, Holder } from '../../shared/review.ts'
import {
  chargeStepWord,
  clockText,
  fixedText,
  holderWord,
  lengthText,
  lowerFirst,
} from '../../shared/wording.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { Fold } from '../parts/fold-line.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { showSpan, showWhole } from '../state.ts'
import { ChargeStrip } from './charge-strip.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { Ladders } from './ladders.tsx'
import { Steps } from './steps-list.tsx'

const REACHED: Readonly<Record<ChargeRow['reached'], string>> = {
  unknown: 'how far it came cannot be told',
  off: 'nothing came on',
  waiting: 'it waited: no contactor closed',
  precharge: 'it came as far as precharge',
  contactors: 'the contactors closed, no current flowed',
  ready: 'it came as far as ready',
  driving: 'it drove',
  charging: 'it charged',
}

/** Charges: the chain of each plug-in, then each charge with its power, who held it back, and its figures. */
export function Charge({ drive }: ViewProps) {
  const { charges, charge_sessions: sessions = [] } = drive.review
  const first = sessions[0]
  const from = first?.span_s[0]
  const to = sessions.at(-1)?.span_s[1]
  useEffect(() => {
    if (from === undefined || to === undefined) showWhole()
    else showSpan([Math.max(0, from - 0.03 * (to - from)), to + 0.03 * (to - from)])
  }, [from, to])
  return (
    <>
      <h1>Charge</h1>
      <FoundHere drive={drive} view="charge" />
      {charges.length + sessions.length === 0 ? (
        <NotHere drive={drive} areas={['start']} asks={/charge/i} what="No charge is in this log." />
      ) : null}
      {sessions.map((session) => (
        <SessionPanel key={session.span_s[0]} session={session} />
      ))}
      {charges.length > 0 ? <Chain charges={charges} /> : null}
      {charges.length + sessions.length > 0 ? (
        <>
          <h2>Current, voltage and what stands behind them</h2>
          <ChartTools />
          <ChartStack drive={drive} charts={CHARTS.map((ids) => channelsOf(drive, ids))} height={140} />
        </>
      ) : null}
      <AskedHere drive={drive} areas={['start', 'isolation']} />
    </>
  )
}

function Chain({ charges }: { charges: readonly ChargeRow[] }) {
  const last = charges.at(-1)!
  return (
    <section class="panel" aria-labelledby="chain-title">
      <h2 id="chain-title">Plugged in, and how far each came</h2>
      <Ladders starts={charges} precharge={[]} what="Charges" wordOf={chargeStepWord} />
      <p class="lead">
        Plugged in at {clockText(last.span_s[0])}:{' '}
        {last.first_failed === null
          ? REACHED[last.reached]
          : `the first step that failed is “${lowerFirst(chargeStepWord(last.first_failed))}”`}
        .
      </p>
      <Fold words="What each step was read from">
        {() => <Steps steps={last.steps} wordOf={chargeStepWord} />}
      </Fold>
    </section>
  )
}

function SessionPanel({ session }: { session: ChargeSession }) {
  const [from, to] = session.span_s
  const { end, stops, notes } = session
  const id = `session-${Math.round(from)}`
  return (
    <section class="panel" aria-labelledby={id}>
      <h2 id={id}>
        Charge from {clockText(from)}, {lengthText(to - from)}
      </h2>
      <ChargeStrip session={session} />
      <FiguresList figures={figuresOf(session)} />
      <ul class="charge-said">
        {session.held_s
          .filter(({ time_s }) => time_s >= 30)
          .map(({ by, time_s }) => (
            <li key={by}>
              {HELD[by] ?? `Held by ${holderWord(by)}`}: {lengthText(time_s)}
            </li>
          ))}
        {stops.map((stop) => (
          <li key={stop.at_s}>
            {STOPPED[stop.kind]} at {clockText(stop.at_s)}; first: {stop.first}
            {stop.again_s === null ? '' : `; back after ${lengthText(stop.lasts_s)}`}.
          </li>
        ))}
        {end ? (
          <li>
            At the end cell {end.highest_cell} was highest, {fixedText(end.above_median_mv, 1)} mV above the
            middle one; cell {end.lowest_cell} lowest.
            {end.ends_by_cell ? ' The highest cell stood at its limit and ended the charge.' : ''}
          </li>
        ) : null}
        {notes.map((note) => (
          <li key={note}>{note}</li>
        ))}
      </ul>
    </section>
  )
}

const HELD: Partial<Record<Holder, string>> = {
  pause: 'Nothing flowed',
  'as-asked': 'As much as was asked',
  'not-told': 'Not told by this log',
}

const STOPPED = { 'broke-off': 'Broke off', paused: 'Paused', ended: 'Ended' } as const

/** Figures that the log gives; what it cannot give is left out but for the energy into the pack. */
function figuresOf(session: ChargeSession) {
  const kilo = (value: number | null) => (value === null ? null : value / 1000)
  const all = [
    {
      name: 'Into the pack',
      value: kilo(session.into_wh),
      plusMinus: kilo(session.into_wh_plus_minus),
      unit: 'kWh',
      keep: true,
    },
    {
      name: 'Charge into the pack',
      value: session.into_ah,
      plusMinus: session.into_ah_plus_minus,
      unit: 'Ah',
    },
    {
      name: 'From the wall',
      value: kilo(session.wall_wh),
      plusMinus: kilo(session.wall_wh_plus_minus),
      unit: 'kWh',
    },
    {
      name: 'The charger passes on',
      value: session.efficiency_percent,
      plusMinus: session.efficiency_percent_plus_minus,
      unit: '%',
    },
    { name: 'Highest current', value: session.most_a, plusMinus: null, unit: 'A' },
    { name: 'State of charge, from', value: session.soc_from, plusMinus: null, unit: '%' },
    { name: 'State of charge, to', value: session.soc_to, plusMinus: null, unit: '%' },
    {
      name: 'Time slower than asked',
      value: session.slow_percent,
      plusMinus: null,
      unit: '%',
    },
    {
      name: 'Cells apart at the end',
      value: session.end?.spread_mv ?? null,
      plusMinus: null,
      unit: 'mV',
    },
    {
      name: 'What the highest cell cost',
      value: session.end?.cost_ah ?? null,
      plusMinus: session.end?.cost_ah_plus_minus ?? null,
      unit: 'Ah',
    },
    {
      name: 'Capacity between two rests',
      value: session.capacity_ah,
      plusMinus: session.capacity_ah_plus_minus,
      unit: 'Ah',
    },
  ]
  return all.filter(({ value, keep }) => value !== null || keep)
}

const CHARTS = [
  ['charger_current', 'pack_current', 'charge_current_request'],
  ['charger_voltage', 'pack_voltage', 'charge_voltage_request'],
  ['mains_voltage'],
  ['mains_current'],
  ['highest_cell_voltage', 'lowest_cell_voltage', 'mean_cell_voltage'],
  ['charger_temperature', 'hottest_temperature', 'coldest_temperature'],
  [
    'charge_plug',
    'charge_lock',
    'charge_enable',
    'contactor_charge',
    'contactor_positive',
    'contactor_negative',
  ],
  ['pilot_voltage'],
  ['pilot_duty'],
  ['bms_state'],
  ['charger_state'],
]
