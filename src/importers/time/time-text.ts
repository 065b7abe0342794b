/** `12:34` and the longest stamp with a zone's name. */
const SHORTEST_TEXT = 5
/** See above. */
const LONGEST_TEXT = 40

/**
 * Times written as text. All forms give seconds on one scale per file: stamps with a date since 1970 (in UTC where a
 * zone is written, else as if it were UTC), clock times since midnight, minutes since the hour.
 */
export type TimeKind = 'stamp' | 'date' | 'clock' | 'minutes'

export interface TimeText {
  readonly kind: TimeKind
  readonly seconds: number
  /** As written: `Z`, `+01:00`; null where none is. */
  readonly zone: string | null
}

/** Which of `03/04/2026`'s numbers is the day: fixed per file by `dayOrder`. */
export type DayOrder = 'dmy' | 'mdy'

const DATE =
  '(?:(\\d{4})[-/.](\\d{1,2})[-/.](\\d{1,2})|(\\d{1,2})[-/.](\\d{1,2})[-/.](\\d{4}|\\d{2})|(\\d{4})(\\d{2})(\\d{2})|(\\d{1,2})[- ]([A-Za-zä]{3})[a-z]*[- ](\\d{4}))'
const CLOCK = '(\\d{1,2})[:h](\\d{2})(?:[:m](\\d{2})(?:[.,:](\\d{1,9}))?s?)?(?:\\s*([ap])\\.?m\\.?)?'
const COMPACT = '(\\d{2})(\\d{2})(\\d{2})(?:[.,](\\d{1,9}))?'
const ZONE = '\\s*(Z|UTC|GMT|CET|CEST|[+-]\\d{2}:?\\d{2})?'
const STAMP = new RegExp(`^${DATE}(?:[T ,_]+|-)${CLOCK}${ZONE}$`, 'i')
const COMPACT_STAMP = new RegExp(`^${DATE}[T _]${COMPACT}${ZONE}$`, 'i')
const DATE_ALONE = new RegExp(`^${DATE}$`)
const CLOCK_ALONE = new RegExp(`^${CLOCK}${ZONE}$`, 'i')
const MINUTES = /^(\d{1,2}):(\d{2})[.,](\d{1,9})$/
/** Every form has one of these; most fields that are no time have none, and are spared the rest. */
const PERHAPS = /\d[-/:h]\d|\.\d+\.|^\d{8}[T _]|[a-z]{3}/i
const MONTH: Readonly<Record<string, number>> = {
  jan: 1,
  feb: 2,
  mar: 3,
  mär: 3,
  apr: 4,
  may: 5,
  mai: 5,
  jun: 6,
  jul: 7,
  aug: 8,
  sep: 9,
  oct: 10,
  okt: 10,
  nov: 11,
  dec: 12,
  dez: 12,
}
const ZONE_HOURS: Readonly<Record<string, number>> = { z: 0, utc: 0, gmt: 0, cet: 1, cest: 2 }

/** Reads one time; null where it is none. Seconds alone (`12.5`) are numbers, not times. */
export function readTimeText(written: string, order: DayOrder = 'dmy'): TimeText | null {
  const text = written.trim().replace(/^'/, '')
  if (text.length < SHORTEST_TEXT || text.length > LONGEST_TEXT || !PERHAPS.test(text)) return null
  const minutes = MINUTES.exec(text)
  if (minutes)
    return {
      kind: 'minutes',
      seconds: Number(minutes[1]) * 60 + secondsOf(minutes[2]!, minutes[3]),
      zone: null,
    }
  const clock = CLOCK_ALONE.exec(text)
  if (clock) return { kind: 'clock', seconds: clockSeconds(clock, 1), zone: clock[6] ?? null }
  const stamp = STAMP.exec(text) ?? COMPACT_STAMP.exec(text)
  if (stamp) {
    const day = dayOf(stamp, order)
    if (day === null) return null
    const compact = stamp.length === 18
    const zone = (compact ? stamp[17] : stamp[18]) ?? null
    const clockS = compact
      ? Number(stamp[13]) * 3600 + Number(stamp[14]) * 60 + secondsOf(stamp[15]!, stamp[16])
      : clockSeconds(stamp, 13)
    return { kind: 'stamp', seconds: day * 86400 + clockS - zoneSeconds(zone), zone }
  }
  const date = DATE_ALONE.exec(text)
  const day = date ? dayOf(date, order) : null
  return day === null ? null : { kind: 'date', seconds: day * 86400, zone: null }
}

export function isTimeText(field: string): boolean {
  return readTimeText(field) !== null || readTimeText(field, 'mdy') !== null
}

/** Day first unless some date of the column says otherwise (`03/25/2026`). */
export function dayOrder(texts: readonly string[]): DayOrder {
  for (const text of texts) {
    const match = /^\s*'?(\d{1,2})[/](\d{1,2})[/](\d{4}|\d{2})/.exec(text)
    if (match && Number(match[2]) > 12) return 'mdy'
  }
  return 'dmy'
}

function clockSeconds(match: RegExpExecArray, at: number): number {
  let hours = Number(match[at])
  const half = match[at + 4]?.toLowerCase()
  if (half) hours = (hours % 12) + (half === 'p' ? 12 : 0)
  return hours * 3600 + Number(match[at + 1]) * 60 + secondsOf(match[at + 2] ?? '0', match[at + 3])
}

function secondsOf(whole: string, fraction: string | undefined): number {
  return fraction === undefined ? Number(whole) : Number(`${whole}.${fraction}`)
}

/** Days since 1970-01-01; null where month or day cannot be. */
function dayOf(match: RegExpExecArray, order: DayOrder): number | null {
  const [, y1, m1, d1, a, b, y2, y3, m3, d3, d4, name, y4] = match
  let [year, month, day] = [0, 0, 0]
  if (y1) [year, month, day] = [Number(y1), Number(m1), Number(d1)]
  else if (y2)
    [year, month, day] =
      order === 'dmy' ? [Number(y2), Number(b), Number(a)] : [Number(y2), Number(a), Number(b)]
  else if (y3) [year, month, day] = [Number(y3), Number(m3), Number(d3)]
  else [year, month, day] = [Number(y4), MONTH[name!.toLowerCase()] ?? 0, Number(d4)]
  if (year < 100) year += 2000
  if (month < 1 || month > 12 || day < 1 || day > 31 || year < 1900 || year > 2200) return null
  return Date.UTC(year, month - 1, day) / 86_400_000
}

function zoneSeconds(zone: string | null): number {
  if (!zone) return 0
  const named = ZONE_HOURS[zone.toLowerCase()]
  if (named !== undefined) return named * 3600
  const match = /^([+-])(\d{2}):?(\d{2})$/.exec(zone)!
  return (match[1] === '-' ? -1 : 1) * (Number(match[2]) * 3600 + Number(match[3]) * 60)
}
