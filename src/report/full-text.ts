import { sessionSentences } from '../../shared/charge-wording.ts'
import { kindWords } from '../../shared/kinds.ts'
import type { Area, Charge, Finding, Question, Review, Start } from '../../shared/review.ts'
import {
  byArea,
  chargeStepWord,
  clockText,
  figureText,
  knownWords,
  limitText,
  numberText,
  onceInFull,
  shownText,
  sentence as spoken,
  stepsText,
  subjectText,
} from '../../shared/wording.ts'
import { regenText } from './regen-text.ts'
import { wrap } from './wrap.ts'

/** Colours a text for the terminal, or leaves it as it is. */
export type Paint = (code: number, text: string) => string

const HEADS = {
  stop: 'SPEAKS AGAINST HANDING OVER',
  attention: 'NEEDS ATTENTION',
  note: 'NOTED',
} as const
const PAINT = { stop: 31, attention: 33, note: 36 } as const

/** Everything that was asked, found and not told, worst first: what follows the verdict under `--full`. */
export function fullLines(
  review: Review,
  { width, paint }: { readonly width: number; readonly paint: Paint },
): string[] {
  const bold = (text: string): string => paint(1, text)
  const lines: string[] = []
  const say = (text: string, indent = 0): void => {
    lines.push(...wrap(text, width, indent))
  }
  const { drive } = review
  for (const file of drive.files)
    for (const skipped of file.skipped)
      say(`${file.name}: ${skipped.count} × ${skipped.what} (first: ${skipped.first})`)
  say(sums(review))
  const said = new Set<string>()
  for (const severity of ['stop', 'attention', 'note'] as const) {
    const found = review.findings.filter((finding) => finding.severity === severity)
    if (found.length === 0) continue
    lines.push('', bold(paint(PAINT[severity], HEADS[severity])))
    for (const finding of found) lines.push(...findingLines(finding, width, bold, said))
  }
  if (review.findings.length === 0) lines.push('', 'Nothing was found among the questions assessed.')
  const stuck = review.starts.filter((start) => start.first_failed !== null)
  if (stuck.length > 0) {
    lines.push('', bold('STARTS'))
    for (const [steps, starts] of alike(stuck)) {
      say(
        `Begun at ${starts.map((start) => clockText(start.span_s[0])).join(', ')}; came ${CAME[starts[0]!.reached]}`,
        2,
      )
      say(steps, 4)
    }
    if (review.check_sheet.length > 0) lines.push('', bold('WHAT TO CHECK, IN THIS ORDER'))
    review.check_sheet.forEach((check, at) => {
      say(`${at + 1}. ${bold(sentence(check.what))}`, 2)
      say(`Instrument: ${check.instrument}. Expect: ${sentence(check.expect, false)}`, 5)
      say(sentence(check.tells), 5)
      if (check.known) say(knownWords(check.known), 5)
      for (const caution of check.cautions) say(`! ${onceInFull(caution, said)}`, 5)
    })
  }
  lines.push(...chargeLines(review, width, bold))
  if (review.regen) {
    const { figures, proposals } = regenText(review.regen)
    lines.push('', bold('REGENERATION'))
    say(sentence(figures), 2)
    // a table keeps its columns: it is not wrapped
    for (const each of proposals)
      for (const line of each) {
        if (line.includes('   ') || line === '') lines.push(line === '' ? '' : `    ${line}`)
        else say(line, 4)
      }
  }
  lines.push(...openLines(review.questions, width, bold), ...clearLines(review.questions, width, bold))
  return lines
}

/** How much was found, and out of how much. */
function sums({ findings, questions }: Review): string {
  const of = (severity: string): number => findings.filter((each) => each.severity === severity).length
  const open = questions.filter((question) => question.state === 'not-assessed').length
  return `Found: ${of('stop')} against handing over, ${of('attention')} needing attention, ${of('note')} noted. Asked: ${questions.length} questions, ${open} of them not assessed.`
}

/** How far an attempt came, as it goes on a sentence. */
const CAME: Readonly<Record<Start['reached'], string>> = {
  unknown: 'how far cannot be seen',
  off: 'no further than the key off',
  waiting: 'no further than waiting, nothing closed',
  precharge: 'as far as precharge',
  contactors: 'as far as both contactors closed',
  ready: 'as far as drive ready',
  driving: 'as far as driving',
}

const CHARGE_CAME: Readonly<Record<Charge['reached'], string>> = {
  ...CAME,
  contactors: 'as far as contactors closed, without current',
  charging: 'to charging',
}

/** Each time the plug was in: how far it came, by which steps; then each charge with current. */
function chargeLines(
  { charges, charge_sessions = [] }: Review,
  width: number,
  bold: (text: string) => string,
): string[] {
  if (charges.length === 0 && charge_sessions.length === 0) return []
  return [
    '',
    bold('CHARGES'),
    ...charges.flatMap((charge) => [
      ...wrap(`Plugged in at ${clockText(charge.span_s[0])}; came ${CHARGE_CAME[charge.reached]}`, width, 2),
      ...wrap(stepsText(charge.steps, chargeStepWord), width, 4),
    ]),
    ...charge_sessions.flatMap((session) => wrap(sessionSentences(session).join(' '), width, 2)),
  ]
}

/** Attempts that went alike, told once. */
function alike(starts: readonly Start[]): Map<string, Start[]> {
  const groups = new Map<string, Start[]>()
  for (const start of starts) {
    const steps = stepsText(start.steps)
    groups.set(steps, [...(groups.get(steps) ?? []), start])
  }
  return groups
}

/** With a full stop, and a capital unless it goes on a sentence. */
function sentence(text: string, capital = true): string {
  return capital ? spoken(text) : /[.!?]$/.test(text) ? text : `${text}.`
}

function findingLines(
  finding: Finding,
  width: number,
  bold: (text: string) => string,
  said: Set<string>,
): string[] {
  const shown = limitText(finding)
  const limit = shown === null ? '' : `; limit ${shown} (${finding.limit_source ?? 'no source'})`
  const lines = [
    ...wrap(bold(finding.headline), width, 2),
    ...wrap(`${figureText(finding)}${limit}; from ${clockText(finding.onset_s)}; ${finding.kind}`, width, 4),
    ...wrap(finding.reason, width, 4),
    ...wrap(`Next: ${finding.next_step}`, width, 4),
  ]
  for (const caution of finding.cautions) lines.push(...wrap(`! ${onceInFull(caution, said)}`, width, 4))
  for (const rival of finding.rivals.slice(0, 2)) {
    const odds = rival.likelihood_ratio === null ? '' : `, ${odd(rival.likelihood_ratio)} less likely`
    const name = `${kindWords(rival.kind)}, ${subjectText(rival.subject)}`
    lines.push(...wrap(`Or ${name}${odds}: ${sentence(rival.against, false)}`, width, 4))
  }
  const decided = new Set(finding.rivals.slice(0, 2).map((rival) => rival.decided_by))
  for (const by of decided) if (by !== '') lines.push(...wrap(`Decided by: ${sentence(by, false)}`, width, 4))
  return lines
}

function odd(ratio: number): string {
  return ratio > 1000 ? 'over 1000 times' : `${numberText(ratio, 2)} times`
}

const AREAS: Readonly<Record<Area, string>> = {
  log: 'the log',
  start: 'the start',
  pack: 'the pack',
  heat: 'heat',
  pedal: 'the pedal',
  brake: 'the brakes',
  isolation: 'isolation',
  energy: 'energy',
}

function openLines(questions: readonly Question[], width: number, bold: (text: string) => string): string[] {
  const lines: string[] = []
  for (const [area, open] of byArea(questions.filter(({ state }) => state === 'not-assessed'))) {
    if (lines.length === 0) lines.push('', bold('NOT ASSESSED'))
    lines.push(`  ${AREAS[area]}`)
    for (const question of open) {
      lines.push(...wrap(question.question, width, 4), ...wrap(sentence(question.why), width, 6))
      if (question.to_assess !== null)
        lines.push(...wrap(`To assess: ${sentence(question.to_assess, false)}`, width, 6))
    }
  }
  return lines
}

function clearLines(questions: readonly Question[], width: number, bold: (text: string) => string): string[] {
  const lines: string[] = []
  for (const [area, clear] of byArea(questions.filter(({ state }) => state === 'nothing-found'))) {
    if (lines.length === 0)
      lines.push(
        '',
        bold('ASKED, NOTHING FOUND'),
        ...wrap('So large a fault would have shown 9 times in 10 where nothing else is said.', width, 2),
      )
    lines.push(`  ${AREAS[area]}`)
    for (const question of clear) {
      const shown = shownText(question)
      const shows = shown === null ? '' : ` ${spoken(shown)}`
      lines.push(...wrap(`${question.question}${shows}`, width, 4), ...wrap(sentence(question.why), width, 6))
    }
  }
  return lines
}
