import { keepsLine } from '../../shared/kinds.ts'
import { type Finding, NOTICE, type Review } from '../../shared/review.ts'
import {
  cautionName,
  clockText,
  figureText,
  firstSentence,
  limitText,
  lowerFirst,
  openLine,
  partlyRead,
  sentence,
  startedText,
  subjectText,
} from '../../shared/wording.ts'
import { fullLines, type Paint } from './full-text.ts'
import { wrap } from './wrap.ts'

export interface TextOptions {
  readonly colour?: boolean
  readonly width?: number
  /** Everything that was asked as well. */
  readonly full?: boolean
}

const PAINT = { stop: 31, attention: 33, note: 36 } as const
const MARK = { stop: 'STOP', attention: 'ATTENTION', note: 'NOTE' } as const
/** Notes that are named; the rest is counted. */
const MOST_NOTES = 4
/** Lines of a finding; a next step that would take more is said by its first sentence. */
const MOST_LINES = 6

/** The review for a terminal: verdict, findings in a few lines each, and one line each for what was asked and not told. */
export function toText(review: Review, options: TextOptions = {}): string {
  const width = options.width ?? 100
  const paint: Paint = (code, text) => (options.colour ? `\u001b[${code}m${text}\u001b[0m` : text)
  const bold = (text: string): string => paint(1, text)
  const { verdict } = review
  const lines = [
    ...wrap(driveLine(review), width, 0),
    ...partlyRead(review.drive).flatMap((each) => wrap(each, width, 0)),
    '',
    ...wrap(verdict.sentence, width, 0).map(bold),
    ...verdict.before_touching.flatMap((each) => wrap(`! ${each}`, width, 0)),
  ]
  if (options.full) lines.push(...fullLines(review, { width, paint }))
  else lines.push(...shortLines(review, width, paint))
  lines.push('', ...wrap(NOTICE, width, 0))
  return `${lines.join('\n')}\n`
}

/** A sample or stored drive in three lines: which, the verdict, and how much was told. */
export function threeLines(review: Review, name: string): string {
  const first = review.findings.find(({ severity }) => severity !== 'note')
  const step = first ? `Next: ${sentence(firstSentence(first.next_step))}` : askedLine(review)
  return `${name}: ${driveLine(review)}\n  ${review.verdict.sentence}\n  ${step}\n`
}

function driveLine({ drive }: Review): string {
  const parts = [drive.files.map((file) => file.name).join(' + ') || 'drive']
  if (drive.started_at !== null) parts.push(startedText(drive.started_at)!)
  parts.push(`${clockText(drive.duration_s)} long`)
  if (drive.distance_km !== null) parts.push(`${drive.distance_km.toFixed(1)} km`)
  return parts.join(', ')
}

function shortLines(review: Review, width: number, paint: Paint): string[] {
  const loud = review.findings.filter(({ severity }) => severity !== 'note')
  const notes = review.findings.filter(({ severity }) => severity === 'note')
  const lines: string[] = []
  for (const finding of loud) {
    const cause = loud.find(({ id }) => id === finding.explained_by)
    if (cause && !keepsLine(finding.kind)) continue
    lines.push('', ...findingLines(finding, cause, width, paint))
    for (const beneath of loud)
      if (beneath.explained_by === finding.id && !keepsLine(beneath.kind))
        lines.push(...wrap(`explains: ${beneath.headline}`, width, 2))
  }
  if (notes.length > 0) lines.push('')
  for (const note of notes.slice(0, MOST_NOTES))
    lines.push(...wrap(`${paint(PAINT.note, MARK.note)} ${sentence(note.headline)}`, width, 0))
  if (notes.length > MOST_NOTES) lines.push(`NOTE ${notes.length - MOST_NOTES} more (--full)`)
  const cautions = [...new Set(loud.flatMap((each) => each.cautions))].filter(
    (each) => !review.verdict.before_touching.some((said) => said.includes(each)),
  )
  if (cautions.length > 0)
    lines.push('', 'Take care:', ...cautions.flatMap((each) => wrap(`! ${each}`, width, 0)))
  lines.push('', ...wrap(askedLine(review), width, 0), ...wrap(openLine(review), width, 0))
  return lines
}

/** At most six lines at a usual width: headline; figure, place and time; the next step; its cautions by name. */
function findingLines(finding: Finding, cause: Finding | undefined, width: number, paint: Paint): string[] {
  const { severity, also } = finding
  const limit = limitText(finding)
  const figure = finding.value === null ? [] : [figureText(finding)]
  const where = [
    ...figure,
    ...(limit === null ? [] : [`limit ${limit}`]),
    subjectText(finding.subject),
    ...(also.length > 0 ? [`${also.length} more alike: ${alsoText(also)}`] : []),
    `from ${clockText(finding.onset_s)}`,
    ...(cause ? [`explained by ${subjectText(cause.subject)}`] : []),
  ].join('; ')
  const names = [...new Set(finding.cautions.map(cautionName))].map((each, at) =>
    at > 0 ? lowerFirst(each) : each,
  )
  const head = wrap(`${paint(PAINT[severity], MARK[severity])} ${sentence(finding.headline)}`, width, 0)
  const place = wrap(where, width, 2)
  const step = wrap(`Next: ${sentence(finding.next_step)}`, width, 2)
  const care = names.length > 0 ? wrap(`! ${names.join('; ')}.`, width, 2) : []
  const room = MOST_LINES - head.length - place.length - care.length
  const first = `Next: ${sentence(firstSentence(finding.next_step))}`
  return [...head, ...place, ...(step.length > room ? wrap(first, width, 2) : step), ...care]
}

const MOST_ALSO = 12

function alsoText(also: Finding['also']): string {
  const numbers = also.map(({ subject }) => subject.index ?? subject.name ?? '').slice(0, MOST_ALSO)
  return numbers.join(', ') + (also.length > MOST_ALSO ? ' …' : '')
}

function askedLine({ questions }: Review): string {
  const clear = questions.filter(({ state }) => state === 'nothing-found').length
  return `Asked, and nothing found: ${clear} of ${questions.length} questions (--full says which, and how small a fault would have shown).`
}
