import { NOTICE, type Review } from '../../shared/review.ts'

/** The review as plain text for a terminal. */
export function toText(review: Review): string {
  const lines: string[] = []
  for (const finding of review.findings) lines.push(`${finding.severity}: ${finding.headline}`)
  for (const question of review.questions) lines.push(`${question.state}: ${question.question}`)
  lines.push(NOTICE)
  return `${lines.join('\n')}\n`
}
