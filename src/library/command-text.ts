import type { Comparison, DriveSummary } from '../../shared/api.ts'
import { NOTICE } from '../../shared/review.ts'
import type { ShownDrive } from './library.ts'

/** Stored drives, a line each. */
export function listText(drives: readonly DriveSummary[]): string {
  if (drives.length === 0) return 'No drives are stored here yet.\n'
  return drives
    .map((drive) => {
      const km = drive.distance_km === null ? '' : `, ${drive.distance_km.toFixed(1)} km`
      return `${drive.id}  ${drive.title}${km}  (${countsText(drive)})\n`
    })
    .join('')
}

export function countsText({ stop, attention, note }: DriveSummary): string {
  const parts = [stop > 0 ? `${stop} stop` : '', attention > 0 ? `${attention} attention` : '']
  if (note > 0) parts.push(`${note} note`)
  return parts.filter(Boolean).join(', ') || 'nothing found among what was assessed'
}

export function showText({ stored, review, notes }: ShownDrive): string {
  const lines = [`${stored.summary.title}  ${stored.summary.id}`]
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
  const digits = (value: number | null) => (value === null ? '–' : String(Number(value.toPrecision(4))))
  for (const figure of comparison.figures) {
    if (figure.what.startsWith('Cell') && figure.certain !== true) continue
    const pm = figure.plus_minus === null ? '' : ` ± ${digits(figure.plus_minus)}`
    lines.push(
      `${figure.what}: ${digits(figure.before)} → ${digits(figure.after)} ${figure.unit}` +
        ` (change ${digits(figure.change)}${pm})`,
    )
  }
  for (const row of comparison.same_pressure)
    lines.push(
      `stops at ${digits(row.bar)} bar: regeneration ${digits(row.before_nm)} → ${digits(row.after_nm)} N·m, ` +
        `deceleration ${digits(row.before_ms2)} → ${digits(row.after_ms2)} m/s²`,
    )
  lines.push(...comparison.notes)
  return `${lines.join('\n')}\n`
}
