import type { BusSummary } from '../../../shared/drive.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { capital, numberText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { OUTSIDE_BOX } from '../../facts/cautions.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { carOn, longestOn, unchangedAround } from '../models/car-on.ts'
import { goesWith } from '../models/lost-with.ts'

type Node = BusSummary['nodes'][number]

/** A control unit may take this long to speak after the key is turned. Common practice, no source. */
const BOOT_S = 5
/** Ten of a node's fastest periods: fewer lost frames are a busy bus, not a node gone. Common practice, no source. */
const PERIODS = 10
/** Share of frames lost that is worth a note, percent. Common practice, no source. */
const LOST_PERCENT = 0.5

/**
 * Did every sender on the bus keep sending, and is the bus busy or disturbed?
 *
 * Model:  a node is silent where none of its frames comes for over ten of its fastest period and over 0.5 s, while
 *         other nodes are heard. With the car on this is attention; before the key, in the first 5 s after it, or at a
 *         change of the charge plug it is not judged. Load: frame bits without stuff bits ÷ bit rate, a second at a
 *         time. Late: over half a period after its due time, the next one early by as much; missing: else.
 * Reads:  the bus summaries of frame logs; key_on or drive_ready or speed, charge_plug.
 * Gives:  `node-silent` [s]; `frames-lost` [%] and `bus-errors` [count] as notes.
 * Biased by: a recorder that stamps frames late or in bunches, which looks like jitter of the sender.
 * Blind:  a node that was never heard; frames that the recorder lost look like frames never sent.
 * Source: 500 ms time-out of a safety signal: Formula Student rules T11.9.4; frame bits: Davis, Burns, Bril,
 *         Lukkien 2007; the rest common practice.
 */
export function busHealth(facts: Facts): Answer {
  const { buses } = facts.drive
  if (buses.length === 0) {
    const why = 'no log holds the bus’s own frames'
    const toAssess = 'Record the bus itself (pcap, pcapng or frame CSV) and give its signal table.'
    return {
      questions: QUESTIONS.map((question) => notAssessed('log', question, [], why, toAssess, 's')),
      findings: [],
    }
  }
  const silent = buses.flatMap((bus) => silentNodes(facts, bus))
  const notes = buses.flatMap((bus) => [...lostFrames(facts, bus), ...errorFrames(facts, bus)])
  return {
    questions: [silenceQuestion(buses, silent), loadQuestion(buses, notes)],
    findings: [...silent, ...notes],
    sections: {
      timeline: silent.map((each) => ({ at_s: each.span_s[0], what: each.headline, channel: null })),
    },
    assumptions: buses
      .filter((bus) => bus.bit_rate_from !== 'signal table')
      .map((bus) => ({
        what: `bit rate of the bus in ${bus.file}`,
        value: bus.bit_rate / 1000,
        unit: 'kbit/s',
        source: 'the smallest usual rate that the busiest second fits into; the true rate may be higher',
      })),
  }
}

const QUESTIONS = [
  'Did every control unit keep sending on the bus?',
  'Is the bus overloaded or disturbed?',
] as const

interface Silence {
  readonly node: Node
  readonly span: Span
}

/** Nodes silent with the car on, worst stretch of each; nodes without a name that fell silent together are one. */
function silentNodes(facts: Facts, bus: BusSummary): Finding[] {
  const on = carOn(facts)
  const worst: Silence[] = []
  const counts = new Map<Node, number>()
  for (const node of bus.nodes) {
    const judged = node.silences.flatMap((silence) => {
      const span = on ? judgedPart(facts, node, silence, on) : silence.at === 'inside' ? silence.span_s : null
      return span ? [span] : []
    })
    judged.sort((a, b) => b[1] - b[0] - (a[1] - a[0]))
    if (judged[0]) worst.push({ node, span: judged[0] })
    counts.set(node, judged.length)
  }
  return together(worst).map(({ nodes, span }) => {
    const [first] = nodes
    const name =
      nodes.length === 1
        ? first!.name
        : `sender of ${nodes.map((node) => node.name.replace(/^frame /, '')).join(', ')}`
    const seconds = span[1] - span[0]
    const period = Math.min(...nodes.map((node) => node.period_s ?? Number.POSITIVE_INFINITY))
    const more = Math.max(...nodes.map((node) => counts.get(node)!)) - 1
    const limit = {
      ...facts.limits.nodeSilentS,
      attention: Math.max(facts.limits.nodeSilentS.attention!, PERIODS * period),
    }
    return finding({
      kind: 'node-silent',
      subject: { type: 'node', name },
      span_s: span,
      value: seconds,
      unit: 's',
      plusMinus: period,
      limit,
      ...(on ? {} : { severity: 'note' as const }),
      headline: `${capital(name)} sent nothing for ${numberText(seconds)} s${on ? ' with the car on' : ''}`,
      reason: `Its fastest frame is due every ${numberText(period * 1000)} ms; the other control units were heard all the while${more > 0 ? `, and it fell silent ${more} more time${more === 1 ? '' : 's'}` : ''}.`,
      next_step: `With the 12 V off, check supply, earth and the bus pair at the plug of ${name}; the pair measures about 60 Ω between its wires where both ends are terminated. Log its own 12 V supply on the next drive.`,
      cautions: [OUTSIDE_BOX],
      channels: channelsOf(facts, bus),
      evidence_s: [Math.max(0, span[0] - 1), span[1] + 1],
    })
  })
}

/** The part of a silence that counts: the car on, the control unit past its start, the charge plug left alone. */
function judgedPart(
  facts: Facts,
  node: Node,
  silence: Node['silences'][number],
  on: readonly Span[],
): Span | null {
  const part = longestOn(silence.span_s, on)
  if (!part || !node.period_s) return null
  const afterKey = on.some(([from]) => Math.abs(from - part[0]) < 1e-6) && part[0] > silence.span_s[0] - 1e-6
  const booting = afterKey || silence.at === 'start'
  const least = Math.max(booting ? BOOT_S : facts.limits.nodeSilentS.attention!, PERIODS * node.period_s)
  if (part[1] - part[0] <= least) return null
  return unchangedAround(channel(facts, 'charge_plug'), silence.span_s[0], 2) ? part : null
}

/** Unnamed senders whose silences begin and end together become one. */
function together(all: readonly Silence[]): { nodes: Node[]; span: Span }[] {
  const groups: { nodes: Node[]; span: Span }[] = []
  for (const { node, span } of all) {
    const unnamed = node.name.startsWith('frame 0x')
    const same = groups.find(
      (group) =>
        unnamed &&
        group.nodes[0]!.name.startsWith('frame 0x') &&
        Math.abs(group.span[0] - span[0]) < 1 &&
        Math.abs(group.span[1] - span[1]) < 1,
    )
    if (same) same.nodes.push(node)
    else groups.push({ nodes: [node], span })
  }
  return groups
}

function lostFrames(facts: Facts, bus: BusSummary): Finding[] {
  return bus.nodes.flatMap((node) => {
    const share = (100 * node.missing) / Math.max(1, node.frames + node.missing)
    if (share < LOST_PERCENT) return []
    return [
      finding({
        kind: 'frames-lost',
        severity: 'note',
        subject: { type: 'node', name: node.name },
        span_s: [0, facts.drive.durationS],
        onset_s: null,
        value: share,
        unit: '%',
        limit: null,
        headline: `${numberText(share)} % of the frames of ${node.name} are missing from ${bus.file}`,
        reason: `${node.missing} frames did not come when they were due, ${node.late} came late; a recorder that could not keep up looks the same.${goesWith(facts, node.off_at_s ?? [])}`,
        next_step:
          'Record the bus once more with another recorder, and see whether the same frames are missing.',
        channels: channelsOf(facts, bus),
      }),
    ]
  })
}

function errorFrames(facts: Facts, bus: BusSummary): Finding[] {
  if (bus.error_frames === 0) return []
  return [
    finding({
      kind: 'bus-errors',
      severity: 'note',
      subject: { type: 'file', name: bus.file },
      span_s: [0, facts.drive.durationS],
      onset_s: facts.drive.events.find((event) => event.what.startsWith('bus error'))?.at_s ?? null,
      value: bus.error_frames,
      unit: 'error frames',
      limit: null,
      headline: `The recorder reported ${bus.error_frames} error frame${bus.error_frames === 1 ? '' : 's'} on the bus`,
      reason:
        'Each is a moment in which a frame broke off or a controller gave up; they stand on the timeline.',
      next_step:
        'With the 12 V off, measure the bus pair: about 60 Ω between its wires, no short to earth or supply; look for chafed or untwisted stretches.',
      cautions: [OUTSIDE_BOX],
      channels: channelsOf(facts, bus),
    }),
  ]
}

function silenceQuestion(buses: readonly BusSummary[], found: readonly Finding[]): Question {
  const loud = found.some((each) => each.severity !== 'note')
  const nodes = buses.flatMap((bus) => bus.nodes)
  const steady = nodes.filter((node) => node.period_s !== null)
  if (steady.length < 2)
    return notAssessed(
      'log',
      QUESTIONS[0],
      [],
      'under two senders with a steady frame are in the log, so a silent one cannot be told from a resting bus',
      'Give the sender of each signal (`node`) in the signal table, and record all of the bus.',
      's',
    )
  const slow = steady.filter((node) => PERIODS * node.period_s! > 0.5)
  const missing = nodes.reduce((sum, node) => sum + node.missing, 0)
  const late = nodes.reduce((sum, node) => sum + node.late, 0)
  const words = [
    `${steady.length} senders with steady frames; ${missing} frames missing, ${late} late.`,
    slow.length > 0
      ? `Slow senders show only longer silence: ${slow.map((node) => `${node.name} ${numberText(PERIODS * node.period_s!)} s`).join(', ')}.`
      : '',
  ]
  return assessed('log', QUESTIONS[0], loud, words.filter(Boolean).join(' '), { value: 0.5, unit: 's' })
}

function loadQuestion(buses: readonly BusSummary[], notes: readonly Finding[]): Question {
  const why = buses
    .map((bus) => {
      let most = 0
      let sum = 0
      for (const each of bus.load_percent) {
        most = Math.max(most, each)
        sum += each
      }
      const mean = sum / Math.max(1, bus.load_percent.length)
      const rate = `${bus.bit_rate / 1000} kbit/s${bus.bit_rate_from === 'signal table' ? '' : ' (assumed: the smallest that fits)'}`
      return `${bus.file}: load ${numberText(mean)} % on average, ${numberText(most)} % in its busiest second (at most ${numberText(bus.worst_load_percent)} % with stuff bits) at ${rate}; ${bus.error_frames} error and ${bus.remote_frames} remote frames, ${bus.unexplained.length} identifiers without a signal.`
    })
    .join(' ')
  const disturbed = notes.some((each) => each.kind === 'bus-errors')
  return assessed('log', QUESTIONS[1], disturbed, why, { value: 1, unit: 'error frames', chance: 1 })
}

/** Channels of that log that the page can draw beside the finding: what the car did. */
function channelsOf(facts: Facts, bus: BusSummary): string[] {
  return (['key_on', 'speed', 'torque', 'pack_current'] as const).filter(
    (id) => channel(facts, id)?.file === bus.file,
  )
}
