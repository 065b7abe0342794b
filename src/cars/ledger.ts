import type { Deed, DeedState } from '../../shared/car-record.ts'
import type { Finding, Severity } from '../../shared/review.ts'
import { type Retest, retest } from '../history/retest.ts'
import { type CarDrive, type CarFile, momentOf } from './open-car.ts'

/** A finding of a car over all its drives, with what became of it. */
export interface LedgerLine {
  readonly id: string
  /** As the last drive that has it told it. */
  readonly finding: Finding
  /** The drives that have it, the oldest first. */
  readonly seen_in: readonly string[]
  /** Does the car's last drive have it? Whatever became of it: what stands, stands. */
  readonly stands: boolean
  readonly state: DeedState
  readonly deeds: readonly Deed[]
  /** What the first drive after it was mended says, and the last one where that is another. */
  readonly retests: readonly { readonly drive: string; readonly title: string; readonly told: Retest }[]
}

const ORDER: Readonly<Record<Severity, number>> = { stop: 0, attention: 1, note: 2 }

/**
 * Every finding of the car's drives, each once, worst first: what stands in the last drive first, then the rest. Notes
 * only where somebody did something about them. State and order of weight are two things: accepted or mended lowers
 * nothing.
 */
export function ledgerOf(file: CarFile): LedgerLine[] {
  const last = file.drives.at(-1)
  const lines = new Map<string, { finding: Finding; at: CarDrive; seen: string[] }>()
  for (const drive of file.drives)
    for (const finding of drive.review.findings)
      lines.set(finding.id, {
        finding,
        at: drive,
        seen: [...(lines.get(finding.id)?.seen ?? []), drive.summary.id],
      })
  const worked = new Map(file.record.findings.map((each) => [each.id, each]))
  return [...lines]
    .filter(([id, { finding }]) => finding.severity !== 'note' || worked.has(id))
    .map(([id, { finding, at, seen }]): LedgerLine => {
      const deeds = worked.get(id)?.deeds ?? []
      const stands = at === last
      return {
        id,
        finding,
        seen_in: seen,
        stands,
        state: deeds.at(-1)?.state ?? 'open',
        deeds,
        retests: retestsOf(file, id, deeds, at),
      }
    })
    .sort(
      (a, b) => Number(b.stands) - Number(a.stands) || ORDER[a.finding.severity] - ORDER[b.finding.severity],
    )
}

/**
 * A mended finding is looked for in the drives after its mending; one that nobody worked on and that the last drive does
 * not have, in that one: so nothing vanishes without a word.
 */
function retestsOf(
  file: CarFile,
  id: string,
  deeds: readonly Deed[],
  seenLast: CarDrive,
): LedgerLine['retests'] {
  const mended = deeds.findLast(({ state }) => state === 'mended')
  const from = mended ? driveOf(file, id, mended) : seenLast
  if (!from) return []
  const finding = from.review.findings.find((each) => each.id === id)
  if (!finding) return []
  const later = mended ? file.drives.filter((each) => isAfter(each, mended, from)) : []
  const asked = mended
    ? [later[0], later.at(-1)]
    : [from === file.drives.at(-1) ? undefined : file.drives.at(-1)]
  return [...new Set(asked)].flatMap((each) =>
    each
      ? [
          {
            drive: each.summary.id,
            title: each.summary.title,
            told: retest(finding, from.review, each.review),
          },
        ]
      : [],
  )
}

/** The drive that showed what was mended: the one named in the deed, else the last before it that has it. */
function driveOf(file: CarFile, id: string, mended: Deed): CarDrive | undefined {
  const has = file.drives.filter(({ review }) => review.findings.some((each) => each.id === id))
  return (
    has.find(({ summary }) => summary.id === mended.drive) ??
    has.findLast(({ summary }) => momentOf(summary) <= Date.parse(mended.at)) ??
    has.at(-1)
  )
}

/** Driven after the mending: later than the drive that showed it, and not before the day on which it was mended. */
function isAfter(drive: CarDrive, mended: Deed, from: CarDrive): boolean {
  const startedAt = drive.summary.started_at
  const day = mended.at.slice(0, 10)
  return (
    momentOf(drive.summary) > momentOf(from.summary) && (startedAt === null || startedAt.slice(0, 10) >= day)
  )
}
