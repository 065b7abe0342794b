import { type Finding, NOTICE, type Question, type Review } from '../../shared/review.ts'

const HEADS = {
  stop: 'SPEAKS AGAINST HANDING OVER',
  attention: 'NEEDS ATTENTION',
  note: 'NOTED',
} as const
const PAINT = { stop: 31, attention: 33, note: 36 } as const

/** A figure with three significant digits more than its interval needs, never in powers of ten below a million. */
export function figure(value: number | null): string {
  if (value === null || !Number.isFinite(value)) return '–'
  const size = Math.abs(value)
  const digits = size >= 1000 ? 0 : size >= 100 ? 0 : size >= 10 ? 1 : size >= 1 ? 2 : 3
  return value.toFixed(digits)
}

/** `0.51 ± 0.06 mΩ`, or with the interval's ends where it is lopsided. */
export function withInterval(finding: Finding): string {
  const { value, low, high, unit, bound } = finding
  if (value === null) return 'no figure'
  const sign = bound === 'at-least' ? 'at least ' : bound === 'at-most' ? 'at most ' : ''
  if (low === null || high === null) return `${sign}${figure(value)} ${unit}`
  const lopsided = Math.abs(high - value - (value - low)) > 0.2 * (high - low)
  const range = lopsided
    ? ` (95 %: ${figure(low)} to ${figure(high)})`
    : high > low
      ? ` ± ${figure((high - low) / 2)}`
      : ''
  return `${sign}${figure(value)}${range} ${unit}`.trim()
}

/** `3:07` or `1:02:33` for a moment of the drive. */
export function clock(seconds: number | null): string {
  if (seconds === null) return '–'
  const whole = Math.floor(Math.max(0, seconds))
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60]
  const two = (n: number): string => String(n).padStart(2, '0')
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`
}

/** The review as plain text for a terminal, worst first. */
export function toText(
  review: Review,
  options: { readonly colour?: boolean; readonly width?: number } = {},
): string {
  const width = options.width ?? 100
  const paint = (code: number, text: string): string =>
    options.colour ? `\u001b[${code}m${text}\u001b[0m` : text
  const bold = (text: string): string => paint(1, text)
  const lines: string[] = []
  const say = (text: string, indent = 0): void => {
    lines.push(...wrap(text, width, indent))
  }
  const { drive, energy } = review
  say(bold(drive.files.map((file) => file.name).join(' + ') || 'drive'))
  const parts = [`${clock(drive.duration_s)} long`]
  if (drive.distance_km !== null) parts.push(`${drive.distance_km.toFixed(1)} km`)
  if (drive.peak.speed_kmh !== null) parts.push(`up to ${drive.peak.speed_kmh.toFixed(0)} km/h`)
  if (energy.out_wh !== null)
    parts.push(`${energy.out_wh.toFixed(0)} Wh out, ${figure(energy.in_wh)} Wh back`)
  say(parts.join(', '))
  for (const file of drive.files)
    for (const skipped of file.skipped)
      say(`${file.name}: ${skipped.count} × ${skipped.what} (first: ${skipped.first})`)
  for (const severity of ['stop', 'attention', 'note'] as const) {
    const found = review.findings.filter((finding) => finding.severity === severity)
    if (found.length === 0) continue
    lines.push('', bold(paint(PAINT[severity], HEADS[severity])))
    for (const finding of found) lines.push(...findingLines(finding, width, bold))
  }
  if (review.findings.length === 0) lines.push('', 'Nothing was found among the questions assessed.')
  const stuck = review.starts.filter((start) => start.first_failed !== null)
  if (stuck.length > 0) {
    lines.push('', bold('STARTS'))
    for (const start of stuck) {
      const held = start.steps.map(
        (step) => `${step.name} ${step.held === null ? '?' : step.held ? 'held' : 'FAILED'}`,
      )
      say(`${clock(start.span_s[0])} reached ${start.reached}: ${held.join(', ')}`, 2)
    }
    if (review.check_sheet.length > 0) lines.push('', bold('WHAT TO CHECK, IN THIS ORDER'))
    review.check_sheet.forEach((check, at) => {
      say(`${at + 1}. ${check.what} — with ${check.instrument}; expect ${check.expect}. ${check.tells}`, 2)
      if (check.known) say(`the log already tells: ${check.known}`, 5)
      for (const caution of check.cautions) say(`! ${caution}`, 5)
    })
  }
  lines.push(...questionLines(review.questions, width, bold))
  lines.push('')
  say(NOTICE)
  return `${lines.join('\n')}\n`
}

function findingLines(finding: Finding, width: number, bold: (text: string) => string): string[] {
  const lines = [...wrap(bold(finding.headline), width, 2)]
  const limit =
    finding.limit === null
      ? ''
      : `; limit ${figure(finding.limit)} ${finding.unit} (${finding.limit_source ?? 'no source'})`
  lines.push(
    ...wrap(`${finding.kind}: ${withInterval(finding)}${limit}; from ${clock(finding.onset_s)}`, width, 4),
  )
  lines.push(...wrap(finding.reason, width, 4))
  lines.push(...wrap(`Next: ${finding.next_step}`, width, 4))
  for (const caution of finding.cautions) lines.push(...wrap(`! ${caution}`, width, 4))
  for (const rival of finding.rivals.slice(0, 2)) {
    const odds = rival.likelihood_ratio === null ? '' : `, ${odd(rival.likelihood_ratio)} less likely`
    lines.push(...wrap(`or ${rival.kind}${odds}: ${rival.against} Decided by: ${rival.decided_by}`, width, 4))
  }
  return lines
}

function odd(ratio: number): string {
  return ratio > 1000 ? 'over 1000 times' : `${figure(ratio)} times`
}

function questionLines(
  questions: readonly Question[],
  width: number,
  bold: (text: string) => string,
): string[] {
  const lines: string[] = []
  const clear = questions.filter((question) => question.state === 'nothing-found')
  if (clear.length > 0) lines.push('', bold('ASKED, NOTHING FOUND'))
  for (const question of clear) {
    const smallest =
      question.smallest_seen === null
        ? ''
        : ` ${figure(question.smallest_seen)} ${question.unit} would have shown ${chance(question.chance)}.`
    lines.push(...wrap(`${question.question}${smallest} ${question.why}`, width, 2))
  }
  const open = questions.filter((question) => question.state === 'not-assessed')
  if (open.length > 0) lines.push('', bold('NOT ASSESSED'))
  for (const question of open) {
    const to = question.to_assess === null ? '' : ` To assess: ${question.to_assess}`
    lines.push(...wrap(`${question.question} ${question.why}${to}`, width, 2))
  }
  return lines
}

function chance(share: number | null): string {
  return share === null ? 'at times' : `${Math.round(share * 10)} times in 10`
}

/** Breaks a sentence at blanks; every line starts with the indent, later ones with two blanks more. */
function wrap(text: string, width: number, indent: number): string[] {
  const lines: string[] = []
  let line = ' '.repeat(indent)
  let empty = true
  for (const word of text.split(/\s+/).filter(Boolean)) {
    if (!empty && line.length + 1 + word.length > width) {
      lines.push(line)
      line = ' '.repeat(indent + 2)
      empty = true
    }
    line += empty ? word : ` ${word}`
    empty = false
  }
  if (!empty) lines.push(line)
  return lines
}
