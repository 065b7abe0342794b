import type { Finding, Question } from '../../../shared/review.ts'
import { capital, numberText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { goesWith } from '../models/lost-with.ts'
import { type MessageCounter, messageCounters } from '../models/message-counters.ts'

const WITH = 'With what do late and lost messages go along?'
const COUNTERS = 'Do the messages’ own counters skip?'
const WOKE = 'Which control unit woke last?'
/** Share of frames that a counter misses which is worth a note, %. Common practice, no source. */
const SKIPS_PERCENT = 0.5
/** Units that speak within so long of the first frame were awake, s; no source. */
const AWAKE_S = 0.3

/**
 * What does the bus say of its own wires: what losses go with, counters that skip, who woke last?
 *
 * Model:  `goesWith` (events in the upper third of speed, current and warmth against chance), `messageCounters`, each
 *         sender's first frame.
 * Reads:  the bus summaries of frame logs; signals that count; speed, pack_current, temperatures.
 * Gives:  `frames-lost` of a counter, % skipped, a note: counted by its sender and not in the log, so lost on the way or by
 *         the recorder. The rest are figures.
 * Biased by: a recorder that loses frames when the bus is busy.
 * Blind:  messages without a counter; senders whose every frame is sent now and then.
 * Source: common practice, no source.
 */
export function loom(facts: Facts): Answer {
  const { buses } = facts.drive
  if (buses.length === 0) {
    const why = 'no log holds the bus’s own frames'
    const toAssess = 'Record the bus itself (pcap, pcapng or frame CSV) and give its signal table.'
    return {
      questions: [WITH, COUNTERS, WOKE].map((question) => notAssessed('log', question, [], why, toAssess)),
      findings: [],
    }
  }
  const counters = messageCounters(facts)
  const found = counters.flatMap((each) => (percent(each) > SKIPS_PERCENT ? [say(facts, each)] : []))
  return { questions: [company(facts), skips(counters, found), woke(facts)], findings: found }
}

function company(facts: Facts): Question {
  const senders = facts.drive.buses
    .flatMap(({ nodes }) => nodes)
    .filter(({ off_at_s }) => (off_at_s?.length ?? 0) > 0)
    .sort((a, b) => b.off_at_s!.length - a.off_at_s!.length)
  const why = senders.slice(0, 5).map((node) => {
    const said = goesWith(facts, node.off_at_s!)
    return `${capital(node.name)}: ${node.late} late, ${node.missing} lost.${said}`
  })
  return assessed(
    'log',
    WITH,
    false,
    why.length > 0 ? why.join(' ') : 'No steady message came late or was lost.',
    {
      value: 1,
      unit: 'messages',
    },
  )
}

const percent = ({ skipped, frames }: MessageCounter): number => (100 * skipped) / (frames + skipped)

function skips(counters: readonly MessageCounter[], found: readonly Finding[]): Question {
  if (counters.length === 0)
    return notAssessed(
      'log',
      COUNTERS,
      [],
      'no signal of the table counts its messages',
      'Give the messages’ counters in the signal table.',
      '%',
    )
  const why = counters.map(
    (each) => `${each.name}: ${each.skipped} skipped, ${each.repeated} sent twice, of ${each.frames}`,
  )
  return assessed('log', COUNTERS, found.length > 0, `${why.slice(0, 6).join('; ')}.`, {
    value: SKIPS_PERCENT,
    unit: '%',
  })
}

function say(facts: Facts, each: MessageCounter): Finding {
  return finding({
    kind: 'frames-lost',
    severity: 'note',
    subject: { type: 'node', name: each.name },
    span_s: [0, facts.drive.durationS],
    onset_s: each.firstAtS,
    value: percent(each),
    unit: '%',
    limit: null,
    question: COUNTERS,
    headline: `${each.name} skips: ${numberText(percent(each))} % of its messages were sent and are not in ${each.file}`,
    reason: `${each.skipped} of ${each.frames + each.skipped} counts are missing, ${each.repeated} came twice. Its sender counted them: they were lost on the wires or by the recorder.`,
    next_step:
      'Record the bus at another plug with another recorder; where the same messages are missing, look at the wires and plugs between sender and recorder.',
    channels: [each.name],
  })
}

function woke(facts: Facts): Question {
  const told = facts.drive.buses.flatMap((bus) =>
    bus.nodes.flatMap((node) =>
      node.first_s === undefined || node.period_s === null
        ? []
        : [{ name: node.name, afterS: node.first_s - bus.first_s, periodS: node.period_s }],
    ),
  )
  if (told.length < 2)
    return notAssessed('log', WOKE, [], 'under two senders with a steady message are in the log', null, 's')
  const last = told.reduce((a, b) => (b.afterS > a.afterS ? b : a))
  const awake = last.afterS < Math.max(AWAKE_S, 2 * last.periodS)
  const why = awake
    ? 'All senders were awake when the log began.'
    : `${last.name} spoke last, ${numberText(last.afterS)} s after the first message of its bus.`
  return assessed('log', WOKE, false, why, { value: AWAKE_S, unit: 's' })
}
