import type { Comparison, DriveSummary } from '../../shared/api.ts'
import { NOTICE } from '../../shared/review.ts'
import { numberText, withInterval } from '../../shared/wording.ts'
import type { ShownDrive } from './library.ts'

/** Stored drives, a line each. */
export function listText(drives: readonly DriveSummary[]): string {
  if (drives.length === 0) return 'No drives are stored here yet.\n'
  return drives
    .map((drive) => {
      const km = drive.distance_km === null ? '' : `, ${drive.distance_km.toFixed(1)} km`
      if (drive.trouble) return `${drive.id}  ${drive.title}\n    ${drive.trouble}\n`
      const told = drive.verdict?.sentence ?? drive.worst
      const worst = told ? `\n    ${told}` : ''
      return `${drive.id}  ${drive.title}${km}  (${countsText(drive)})${worst}\n`
    })
    .join('')
}

function countsText({ stop, attention, note, unseen }: DriveSummary): string {
  const parts = [stop > 0 ? `${stop} stop` : '', attention > 0 ? `${attention} attention` : '']
  if (note > 0) parts.push(`${note} note`)
  const little = (unseen ?? []).length > 0 ? 'too little assessed to conclude' : ''
  return [...parts, little].filter(Boolean).join(', ') || 'nothing found among what was assessed'
}

export function showText({ stored, review, notes, troubles }: ShownDrive): string {
  const lines = [`${stored.summary.title}  ${stored.summary.id}`, ...troubles]
  for (const { name, bytes } of stored.logs) lines.push(`log: ${name}, ${bytes} bytes`)
  for (const finding of review.findings) lines.push(`${finding.severity}: ${finding.headline}`)
  for (const question of review.questions.filter(({ state }) => state === 'not-assessed'))
    lines.push(`not assessed: ${question.question} (${question.why})`)
  if (notes) lines.push(`notes: ${notes}`)
  lines.push(NOTICE)
  return `${lines.join('\n')}\n`
}

export function comparisonText(before: string, after: string, comparison: Comparison): string {
  const lines = [`before: ${before}`, `after:  ${after}`, '']
  for (const finding of comparison.gone) lines.push(`no longer found: ${finding.headline}`)
  for (const finding of comparison.came) lines.push(`new: ${finding.headline}`)
  for (const { after: finding } of comparison.stayed) lines.push(`still found: ${finding.headline}`)
  for (const figure of comparison.figures) {
    if (figure.what.startsWith('Cell') && figure.certain !== true) continue
    const change =
      figure.change === null ? 'cannot be told' : withInterval(figure.change, figure.plus_minus, '')
    const beyond = figure.certain ? ', beyond both intervals' : ''
    lines.push(
      `${figure.what}: ${numberText(figure.before, 4)} → ${numberText(figure.after, 4)} ${figure.unit}`.trimEnd() +
        ` (change ${change}${beyond})`,
    )
  }
  for (const row of comparison.same_pressure)
    lines.push(
      `stops at ${numberText(row.bar)} bar: regeneration ${numberText(row.before_nm)} → ${numberText(row.after_nm)} N·m, ` +
        `deceleration ${numberText(row.before_ms2)} → ${numberText(row.after_ms2)} m/s²`,
    )
  lines.push(...comparison.notes)
  return `${lines.join('\n')}\n`
}
