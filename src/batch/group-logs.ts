import type { SeenLog } from './look-at-log.ts'

/** How logs are put together: by all that tells, by one thing alone, or each on its own. */
export const GROUPINGS = ['auto', 'clock', 'name', 'folder', 'file'] as const
export type Grouping = (typeof GROUPINGS)[number]

/** Logs that are one drive, and why. */
export interface Group {
  readonly logs: readonly SeenLog[]
  readonly why: string
}

/**
 * Which logs of one folder are one drive. Two logs of one box are two drives; two of different boxes are one where
 *
 *     clock    both carry dates, and they cover each other for half of the shorter one; dates that do not: never
 *     name     what changes from log to log of a box ("07" in bms-07, bms-08) stands in the other's name too
 *     folder   nothing else tells, and the folder holds one log of each box
 *
 * Common practice, no source. Blind: a drive that one box cut into several files comes as several drives; `folder`
 * or a list of groups puts that right.
 */
export function groupLogs(all: readonly SeenLog[], by: Grouping = 'auto'): Group[] {
  const logs = [...all].sort((a, b) => (a.name < b.name ? -1 : 1))
  if (logs.length === 1) return [{ logs, why: 'the only log of its folder' }]
  if (by === 'folder') return [{ logs, why: 'all logs of their folder, as asked' }]
  if (by === 'file') return logs.map((log) => ({ logs: [log], why: 'each log on its own, as asked' }))
  const groups = logs.map((log): Group => ({ logs: [log], why: 'no other log goes with it' }))
  const join = (a: SeenLog, b: SeenLog, why: string): void => {
    const [one, other] = [a, b].map((log) => groups.findIndex((group) => group.logs.includes(log)))
    if (
      one === other ||
      groups[one!]!.logs.some((log) => groups[other!]!.logs.some((each) => each.box === log.box))
    )
      return
    const both = [...groups[one!]!.logs, ...groups[other!]!.logs].sort((x, y) => (x.name < y.name ? -1 : 1))
    groups[Math.min(one!, other!)] = { logs: both, why }
    groups.splice(Math.max(one!, other!), 1)
  }
  const pairs = logs.flatMap((a, at) => logs.slice(at + 1).map((b) => [a, b] as const))
  const apart = pairs.filter(([a, b]) => a.box !== b.box && a.box !== '' && b.box !== '')
  if (by !== 'name')
    for (const [a, b] of apart)
      if (sameTime(a, b)) join(a, b, `by clock: they cover the same time (${spanText(a)})`)
  if (by === 'clock') return groups
  const keys = nameKeys(logs)
  const undecided = apart.filter(([a, b]) => by === 'name' || sameTime(a, b) === null)
  for (const [a, b] of undecided) {
    const key = sharedKey(keys.get(a)!, keys.get(b)!)
    if (key !== null) join(a, b, `by name: both say "${key}"`)
  }
  if (by === 'name') return groups
  const boxes = new Set(logs.map(({ box }) => box))
  const oneOfEach = boxes.size === logs.length && !boxes.has('')
  if (oneOfEach && groups.length > 1 && pairs.every(([a, b]) => sameTime(a, b) !== false))
    return [{ logs, why: 'by folder: one log of each of its boxes' }]
  return groups
}

/** Do they cover the same time? null where one carries no date. */
function sameTime({ clock: a }: SeenLog, { clock: b }: SeenLog): boolean | null {
  if (a === null || b === null) return null
  const overlap = Math.min(a[1], b[1]) - Math.max(a[0], b[0])
  return overlap > 0 && overlap >= 0.5 * Math.min(a[1] - a[0], b[1] - b[0])
}

function spanText({ clock }: SeenLog): string {
  const [from, to] = clock!.map((ms) => new Date(ms).toISOString())
  return `${from!.slice(0, 16).replace('T', ' ')} to ${to!.slice(11, 16)}`
}

/** What tells a log from the others of its box: the parts of its name that change; all parts where it has no other. */
interface NameKey {
  readonly parts: readonly string[]
  readonly alone: boolean
}

function nameKeys(logs: readonly SeenLog[]): Map<SeenLog, NameKey> {
  const keys = new Map<SeenLog, NameKey>()
  for (const box of new Set(logs.map((log) => log.box))) {
    const members = logs.filter((log) => log.box === box)
    const parts = members.map(({ name }) => partsOf(name))
    const even = parts.every((each) => each.length === parts[0]!.length)
    members.forEach((log, at) => {
      const own = parts[at]!
      const telling = own.filter((part, place) =>
        even ? parts.some((other) => other[place] !== part) : !parts.every((other) => other.includes(part)),
      )
      keys.set(log, { parts: members.length === 1 ? own : telling, alone: members.length === 1 })
    })
  }
  return keys
}

/** `bms_2026-11-27-07.csv.gz` → bms, 2026, 11, 27, 7. */
function partsOf(name: string): string[] {
  const stem = name.toLowerCase().replace(/(\.[a-z]{2,7}){1,2}$/, '')
  return (stem.match(/\p{L}+|\d+/gu) ?? []).map((part) => (/^\d+$/.test(part) ? String(Number(part)) : part))
}

/** What both names say of the drive; null where they do not agree, or where neither says anything. */
function sharedKey(a: NameKey, b: NameKey): string | null {
  if (a.alone && b.alone) {
    const numbers = a.parts.filter((part) => /\d/.test(part) && b.parts.includes(part))
    return numbers.length > 0 ? numbers.join(' ') : null
  }
  const [key, other] = a.alone ? [b, a] : [a, b]
  if (key.parts.length === 0) return null
  const agrees = other.alone
    ? key.parts.every((part) => other.parts.includes(part))
    : key.parts.join(' ') === other.parts.join(' ')
  return agrees ? key.parts.join(' ') : null
}
