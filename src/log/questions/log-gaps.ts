import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { numberText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { silences } from '../../math/silences.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import { movedBeside } from '../models/car-on.ts'

const QUESTION = 'Is every log whole from its first to its last sample?'
/** Shorter pauses are a slow row, not a gap. */
const LEAST_S = 1
const ROWS = 10

interface FileGaps {
  readonly file: string
  readonly gaps: readonly Span[]
  readonly leastS: number
}

/**
 * Where did a log stop and go on?
 *
 * Model:  a gap is a stretch between a file's first and last sample in which none of its channels has one, longer than
 *         1 s and than ten of its usual row spacings.
 * Reads:  the times of all channels of each file; speed.
 * Gives:  `log-gap` [s]: attention from 5 s on where the car moved as it began or ended (what happened in it is
 *         unknown), else a note: recorders rest with the key off.
 * Biased by: one slow channel in a file of its own, whose usual spacing is already long.
 * Blind:  a recorder whose rows come only when something changes; time before the first and after the last sample.
 * Source: definition; limits common practice, no source.
 */
export function logGaps(facts: Facts): Answer {
  const files = [...new Set([...facts.drive.channels.values()].map((each) => each.file))]
  const found: Finding[] = []
  const questions: Question[] = []
  if (files.length === 0)
    questions.push(notAssessed('log', QUESTION, [], 'The log holds no channel.', null, 's'))
  for (const file of files) {
    const gaps = gapsOf(facts, file)
    if (!gaps) {
      questions.push(
        notAssessed(
          'log',
          `${QUESTION} (${file})`,
          [],
          'its rows come at no steady rate',
          'Log at least one channel at a steady rate.',
          's',
        ),
      )
      continue
    }
    const judged = gaps.gaps.length > 0 ? judge(facts, gaps) : null
    if (judged) found.push(judged)
    const total = gaps.gaps.reduce((sum, [from, to]) => sum + to - from, 0)
    questions.push(
      assessed(
        'log',
        files.length > 1 ? `${QUESTION} (${file})` : QUESTION,
        judged !== null,
        gaps.gaps.length === 0 ? 'No gap.' : `${gaps.gaps.length} gaps, ${numberText(total)} s in all.`,
        { value: gaps.leastS, unit: 's', chance: 1 },
      ),
    )
  }
  return { questions, findings: found }
}

function gapsOf(facts: Facts, file: string): FileGaps | null {
  const times = new Set<Float64Array>()
  for (const each of [...facts.drive.channels.values(), ...facts.drive.spares])
    if (each.file === file && each.timeS.length > 1) times.add(each.timeS)
  const all = [...times].sort((a, b) => b.length - a.length)
  if (all.length === 0) return null
  const period = Math.min(
    ...all
      .slice(0, 20)
      .map(samplePeriod)
      .filter((each) => each > 0),
  )
  const from = Math.min(...all.map((timeS) => timeS[0]!))
  const to = Math.max(...all.map((timeS) => timeS[timeS.length - 1]!))
  const leastS = Math.max(LEAST_S, ROWS * period)
  const gaps = silences(all, leastS, from, to)
  // rows that come now and then leave gaps all the time
  const open = gaps.reduce((sum, [start, end]) => sum + end - start, 0)
  const rows = all[0]!.length * period
  if (!Number.isFinite(period) || (gaps.length > 20 && open > rows)) return null
  return { file, gaps, leastS }
}

function judge(facts: Facts, { file, gaps }: FileGaps): Finding {
  const moving = gaps.filter((gap) => movedBeside(facts, gap))
  const [from, to] = longest(moving.length > 0 ? moving : gaps)
  const seconds = to - from
  return finding({
    kind: 'log-gap',
    subject: { type: 'file', name: file },
    span_s: [from, to],
    value: seconds,
    unit: 's',
    limit: facts.limits.logGapS,
    ...(moving.length > 0 ? {} : { severity: 'note' as const }),
    headline: `${file} has a gap of ${numberText(seconds)} s${moving.length > 0 ? ' while the car moved' : ''}`,
    reason: `No channel of it has a sample there${gaps.length > 1 ? `; it has ${gaps.length} gaps in all` : ''}. Nothing in this review speaks about that time.`,
    next_step:
      moving.length > 0
        ? 'Look at the recorder’s supply, plug and memory. What happened in the gap stays unknown.'
        : 'Nothing to do where the recorder rests with the key off; else look at its supply.',
    channels: [...facts.drive.channels.values()]
      .filter((each) => each.file === file)
      .slice(0, 3)
      .map((each) => each.id),
  })
}

const longest = (spans: readonly Span[]): Span =>
  spans.reduce((best, span) => (span[1] - span[0] > best[1] - best[0] ? span : best))
