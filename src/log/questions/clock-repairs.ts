import type { DriveFile } from '../../../shared/drive.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { numberText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'

const CLOCK = 'Did the clock of every log run on without a step?'
const ROWS = 'Does every log hold each of its rows once?'

/**
 * Did a log's own clock jump, or a recorder write rows twice? Both are healed on import; here it is said.
 *
 * Model:  none: what the importers took out (`drive.files[].clock.steps`, blocks of rows alike stamp by stamp).
 * Reads:  the files' clock reports and repeated blocks.
 * Gives:  `clock-stepped` [s stepped over, the largest step; negative: back], `rows-repeated` [s read twice]: notes.
 * Biased by: a pause while the clock was set counts as one usual spacing, so what lies after the step may be early.
 * Blind:  a clock set forward by under a day looks like a pause, unless another log shows it; how long a box was off.
 * Source: definition.
 */
export function clockRepairs(facts: Facts): Answer {
  const found: Finding[] = []
  const questions: Question[] = []
  const { files } = facts.drive
  if (files.length === 0)
    return {
      questions: [notAssessed('log', CLOCK, [], 'No log came with its own clock.', null, 's')],
      findings: [],
    }
  for (const file of files) {
    const named = (question: string): string => (files.length > 1 ? `${question} (${file.name})` : question)
    const steps = file.clock.steps.filter((step) => !step.usual)
    const stepped = steps.length > 0 ? clockStepped(file, steps, named(CLOCK)) : null
    const repeated = (file.repeats ?? []).length > 0 ? rowsRepeated(file, named(ROWS)) : null
    questions.push(
      assessed(
        'log',
        named(CLOCK),
        stepped !== null,
        stepped ? `${times(steps.length, 'step')} taken out.` : 'No step.',
        { value: 1, unit: 's', chance: 1 },
      ),
      assessed(
        'log',
        named(ROWS),
        repeated !== null,
        repeated ? `${times(file.repeats!.length, 'block')} left out.` : 'No block of rows stands twice.',
        { value: 5, unit: 'rows', chance: 1 },
      ),
    )
    for (const each of [stepped, repeated]) if (each) found.push(each)
  }
  return { questions, findings: found }
}

const times = (count: number, what: string): string => `${count} ${what}${count === 1 ? '' : 's'}`

function clockStepped(file: DriveFile, steps: DriveFile['clock']['steps'], question: string): Finding {
  const largest = steps.reduce((most, step) => (Math.abs(step.step_s) > Math.abs(most.step_s) ? step : most))
  const way = largest.step_s < 0 ? 'back' : 'forward'
  return finding({
    kind: 'clock-stepped',
    subject: { type: 'file', name: file.name },
    span_s: [largest.at_s, largest.at_s],
    value: largest.step_s,
    unit: 's',
    limit: null,
    severity: 'note',
    question,
    headline: `The clock of ${file.name} jumped ${way} by ${spanText(Math.abs(largest.step_s))}`,
    reason: `At ${numberText(largest.at_s)} s of the drive: ${largest.why}. ${steps.length > 1 ? `It stepped ${steps.length} times in all. ` : ''}The steps are taken out; the rows on both sides are joined one usual spacing apart.`,
    next_step:
      'Set the recorder’s clock before the drive. How long the log stood still at the step is not in it.',
    channels: [],
  })
}

function rowsRepeated(file: DriveFile, question: string): Finding {
  const blocks = file.repeats!
  const seconds = blocks.reduce((sum, { length_s }) => sum + length_s, 0)
  const rows = blocks.reduce((sum, each) => sum + each.rows, 0)
  return finding({
    kind: 'rows-repeated',
    subject: { type: 'file', name: file.name },
    span_s: [blocks[0]!.at_s - blocks[0]!.length_s, blocks[0]!.at_s],
    value: seconds,
    unit: 's',
    limit: null,
    severity: 'note',
    question,
    headline: `${file.name} holds ${numberText(seconds)} s of its rows twice`,
    reason: `${rows} rows repeat earlier ones, time and values alike. The second copy is left out.`,
    next_step:
      'Look at how the recorder writes and how the file was joined. No row of the drive is lost by it.',
    channels: [],
  })
}

/** Seconds, or days where they are many. */
function spanText(seconds: number): string {
  return seconds > 2 * 86400 ? `${numberText(seconds / 86400)} days` : `${numberText(seconds)} s`
}
