import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { RUNG_QUESTIONS } from '../../facts/rung-questions.ts'
import { voltages } from '../models/precharge-voltages.ts'
import { type IsolationRecord, isolationRecord, type LowSpell } from '../models/start-isolation.ts'

/** A trend is told from so much an hour, and so much in all, %; no source. */
const TREND_PERCENT = 20
/** See above. */
const MOVED_PERCENT = 15
/** Fewer readings before do not show that it came up later; no source. */
const FEWEST_BEFORE = 3

/**
 * Is the high voltage isolated from the body?
 *
 * Model: isolation resistance ÷ highest working voltage, settled readings only (`models/start-isolation.ts`); a low
 *   stretch is three readings or more under the limit; its figure is their median. Readings with the contactors open
 *   are set against readings with them closed: lower when closed → the leak is on the link's side.
 * Reads: isolation_resistance [kΩ], pack_voltage or every cell [V], contactors, plug (left out with the charger connected).
 * Gives: `isolation-low` [Ω/V] and `isolation`.
 * Blind: a leak that comes only with the charger (`charge-isolation.ts`); one in the middle of the pack that a monitor of
 *   one side misses.
 * Biased by: the monitor's own error, taken as 15 % (common practice, no source).
 * Source: UN R100 5.1.3.1 (100 Ω/V DC, 500 Ω/V with an AC bus); FSAE EV.7.6.3 (500 Ω/V).
 */
export function isolation(facts: Facts): Answer {
  const ask = RUNG_QUESTIONS.isolation
  const record = facts.once(isolationRecord)
  if ('why' in record)
    return {
      questions: [
        notAssessed(
          'isolation',
          ask,
          record.missing,
          record.why,
          'Log the isolation monitor’s reading and the pack voltage.',
          'Ω/V',
        ),
      ],
      findings: [],
      sections: { isolation: null },
    }
  const attention = facts.vehicle.isolation_min_ohm_per_volt ?? facts.limits.isolation.attention ?? 500
  const spells = record.low(attention)
  const worst = spells.length > 0 ? spells.reduce((a, b) => (b.ohmPerVolt < a.ohmPerVolt ? b : a)) : null
  const side = sideOf(facts, record)
  const notes = notesOf(record)
  const half = plusMinus(record.median, record.spread, record.ohmPerVolt.length)
  const relative = Math.min(0.6, MONITOR_ERROR + (2 * record.spread) / record.median / Math.sqrt(3))
  return {
    questions: [
      assessed(
        'isolation',
        ask,
        worst !== null,
        `${record.ohmPerVolt.length} settled readings, median ${record.median.toFixed(0)} Ω/V at ${record.highestWorkingV.toFixed(0)} V`,
        {
          value: attention * (1 - relative),
          unit: 'Ω/V',
        },
      ),
    ],
    findings: worst ? [lowFinding(facts, record, worst, attention, side)] : [],
    sections: {
      isolation: {
        ohm_per_volt: record.median,
        ohm_per_volt_plus_minus: half,
        lowest_ohm_per_volt: record.lowest,
        highest_working_v: record.highestWorkingV,
        settled_from_s: record.settledFromS,
        trend_percent_per_h: record.trendPercentPerHour,
        side,
        note: notes.length > 0 ? notes.join('; ') : null,
      },
    },
  }
}

/** What an isolation monitor may be wrong by. Common practice, no source. */
const MONITOR_ERROR = 0.15

const plusMinus = (value: number, spread: number, n: number): number =>
  Math.hypot(MONITOR_ERROR * value, (2 * 1.25 * spread) / Math.sqrt(n))

/** On which side of the contactors the leak is, where the readings tell; only asked of a low reading. */
function sideOf(facts: Facts, record: IsolationRecord): string | null {
  const limit = facts.vehicle.isolation_min_ohm_per_volt ?? 500
  if (!Number.isFinite(record.open) || !Number.isFinite(record.closed)) return null
  if (Math.min(record.open, record.closed) > 2 * limit) return null
  if (facts.vehicle.isolation_monitor_side === 'link') return null
  if (record.closed < 0.6 * record.open) return 'link side: it is low only with the contactors closed'
  if (record.open < 1.3 * record.closed) return 'battery side: it is as low with the contactors open'
  return null
}

function notesOf(record: IsolationRecord): string[] {
  const notes: string[] = []
  if (record.startUp > 0) notes.push(`${record.startUp} start-up readings left out`)
  if (record.saturated > 0) notes.push(`${record.saturated} readings at the monitor’s top value left out`)
  if (record.charging > 0) notes.push(`${record.charging} readings with the plug in left out`)
  const { trendPercentPerHour: trend } = record
  if (
    trend !== null &&
    Math.abs(trend) > TREND_PERCENT &&
    Math.abs(trend) * ((record.timeS.at(-1)! - record.timeS[0]!) / 3600) > MOVED_PERCENT
  )
    notes.push(
      `${trend < 0 ? 'falling' : 'rising'} through the drive by ${Math.abs(trend).toFixed(0)} % per hour${trend < 0 ? ', as moisture or heat does' : ', as drying does'}`,
    )
  return notes
}

function lowFinding(
  facts: Facts,
  record: IsolationRecord,
  low: LowSpell,
  attention: number,
  side: string | null,
): Finding {
  const kiloohm = (low.ohmPerVolt * record.highestWorkingV) / 1000
  const start = record.ohmPerVolt.slice(0, Math.max(0, record.timeS.indexOf(low.startS)))
  const came =
    start.length >= FEWEST_BEFORE
      ? ` It came up at ${low.startS.toFixed(0)} s; before that the readings were above the limit.`
      : ''
  return finding({
    kind: 'isolation-low',
    subject: { type: 'isolation' },
    span_s: [low.startS, low.endS],
    value: low.ohmPerVolt,
    unit: 'Ω/V',
    plusMinus: plusMinus(low.ohmPerVolt, low.spread, low.readings),
    limit: {
      attention,
      stop: facts.limits.isolation.stop,
      unit: 'Ω/V',
      source:
        facts.vehicle.isolation_min_ohm_per_volt !== undefined
          ? `vehicle file; ${facts.limits.isolation.source}`
          : facts.limits.isolation.source,
    },
    bad: 'below',
    stopOnEstimate: true,
    headline: `Isolation is low: ${low.ohmPerVolt.toFixed(0)} Ω/V`,
    reason: `${low.readings} settled readings with a median of ${kiloohm.toFixed(0)} kΩ at a highest working voltage of ${record.highestWorkingV.toFixed(0)} V.${came}${
      side
        ? ` The leak is on the ${side}.`
        : ' The log does not tell on which side of the contactors the leak is.'
    }`,
    next_step: side?.startsWith('link')
      ? 'Look at cables, connectors and consumers on the inverter’s side for moisture, chafing and coolant; isolate and prove dead first. Then unplug consumers one by one with the monitor read after each.'
      : 'Look at the high-voltage cables and connectors outside the boxes for moisture, chafing and coolant; isolate and prove dead first. A battery box is opened by the pack maker’s procedure only.',
    cautions: [
      'A first leak makes the body live against the other pole: touch one part at a time, with rated gloves.',
      'No insulation tester on connected electronics; do not bridge the monitor.',
      DC_LINK,
      OUTSIDE_BOX,
      INSIDE_BOX,
    ],
    channels: logged(facts, ['isolation_resistance', ...facts.once(voltages).packFrom]),
  })
}
