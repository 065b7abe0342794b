import type { DriveSummary } from '../../shared/api.ts'
import { KINDS } from '../../shared/kinds.ts'
import { VERDICT_STATES } from '../../shared/review.ts'
import { LogError } from '../errors.ts'

/** What stored drives are looked for by; what is left out holds for all. */
export interface DriveSearch {
  readonly car?: string | undefined
  readonly kit?: string | undefined
  /** First and last day, YYYY-MM-DD, both included: of the drive's start, else of its storing. */
  readonly from?: string | undefined
  readonly to?: string | undefined
  /** Kind, place or words of a finding: "joint-41", "isolation-low", "welded". */
  readonly finding?: string | undefined
  readonly verdict?: string | undefined
  /** Words that must all stand in title, car, kit, file names or findings. */
  readonly text?: string | undefined
}

/** The drives that fit, in the order given. @throws LogError for a date or verdict that is none */
export function searchDrives(drives: readonly DriveSummary[], search: DriveSearch): DriveSummary[] {
  const { car, kit, from, to, finding, verdict, text } = search
  for (const [name, day] of [
    ['from', from],
    ['to', to],
  ] as const)
    if (day !== undefined && !/^\d{4}-\d{2}-\d{2}$/.test(day))
      throw new LogError('usage', `"${day}" as --${name} is no day; YYYY-MM-DD was expected.`)
  if (verdict !== undefined && !(VERDICT_STATES as readonly string[]).includes(verdict))
    throw new LogError(
      'usage',
      `There is no verdict "${verdict}"; ${VERDICT_STATES.join(', ')} were expected.`,
    )
  const words = (text ?? '')
    .toLowerCase()
    .split(/\s+/)
    .filter(Boolean)
    .map((word) => [word, kindsSaying(word)] as const)
  const wanted = finding?.toLowerCase()
  const wantedKinds = wanted === undefined ? new Set<string>() : kindsSaying(wanted)
  return drives.filter((drive) => {
    const day = (drive.started_at ?? drive.added_at).slice(0, 10)
    return (
      (car === undefined || same(drive.car, car)) &&
      (kit === undefined || same(drive.kit, kit)) &&
      (from === undefined || day >= from) &&
      (to === undefined || day <= to) &&
      (verdict === undefined || drive.verdict?.state === verdict) &&
      (finding === undefined || hasFinding(drive, wanted!, wantedKinds)) &&
      words.every(([word, kinds]) => holds(drive, word, kinds))
    )
  })
}

const same = (a: string | null | undefined, b: string): boolean =>
  a?.trim().toLowerCase() === b.trim().toLowerCase()

/** Kinds whose own words hold that word: worked out once a word, not once a drive. */
const kindsSaying = (word: string): ReadonlySet<string> =>
  new Set(Object.entries(KINDS).flatMap(([kind, { words }]) => (words.includes(word) ? [kind] : [])))

function hasFinding({ found }: DriveSummary, word: string, kinds: ReadonlySet<string>): boolean {
  return (found ?? []).some(
    (each) =>
      each.includes(word) ||
      (kinds.size > 0 && kinds.has(each.slice(each.indexOf(' ') + 1, each.indexOf('/')))),
  )
}

const holds = (drive: DriveSummary, word: string, kinds: ReadonlySet<string>): boolean =>
  [drive.title, drive.car, drive.kit, ...drive.files.map(({ name }) => name)].some((each) =>
    each?.toLowerCase().includes(word),
  ) || hasFinding(drive, word, kinds)
