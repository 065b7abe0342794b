import type { Skipped } from '../../../shared/drive.ts'
import { type ClockStep, DAY_S, UNSET_BEFORE_S } from './clock-jumps.ts'
import { ownTime } from './own-time.ts'
import type { RepeatedRows, SameRow } from './repeated-rows.ts'
import type { TimePlan } from './time-columns.ts'
import { readTimeText } from './time-text.ts'

/** A log's own time, in seconds, and when it began. */
export interface LogTime {
  /** Per row; NaN where the row is left out. */
  readonly timeS: Float64Array
  /** Some rows are NaN. */
  readonly dropped: boolean
  readonly startedAt: string | null
  readonly skipped: readonly Skipped[]
  readonly steps: readonly ClockStep[]
  readonly repeats: readonly RepeatedRows[]
  readonly notes: readonly string[]
}

/**
 * Stamps as written → own time: seconds as written for relative times, since the file's first stamp for wall clocks.
 * @param stamps used up (changed in place)
 */
export function logTime(
  stamps: Float64Array,
  plan: TimePlan,
  about: {
    readonly sharedStamps: boolean
    readonly zone: string | null
    readonly preamble: readonly string[]
    readonly lineOf: (row: number) => number
    readonly sameRow?: SameRow
  },
): LogTime {
  const { times, over } = plan
  const wall = plan.epoch || plan.kind === 'stamp' || plan.kind === 'clock' || plan.kind === 'minutes'
  let first = Number.NaN
  for (let i = 0; i < stamps.length && Number.isNaN(first); i++) first = stamps[i]!
  // Differences first: a stamp since 1970 in nanoseconds has no digits left for the sum.
  if (plan.epoch) for (let i = 0; i < stamps.length; i++) stamps[i] = ((stamps[i]! - first) * times) / over
  else if (times !== 1 || over !== 1)
    for (let i = 0; i < stamps.length; i++) stamps[i] = (stamps[i]! * times) / over
  const base = plan.epoch ? (first * times) / over : 0
  const dated = plan.kind === 'stamp' || plan.epoch
  const own = ownTime(
    stamps,
    {
      sharedStamps: about.sharedStamps,
      modulusS: plan.kind === 'minutes' ? 3600 : plan.kind === 'clock' && plan.dateColumn < 0 ? 86400 : 0,
      countS: times / over,
      wall: dated || plan.kind === 'clock',
      baseS: base,
      ...(about.sameRow ? { sameRow: about.sameRow } : {}),
    },
    about.lineOf,
  )
  const { timeS } = own
  if (wall && !plan.epoch) for (let i = 0; i < timeS.length; i++) timeS[i] = timeS[i]! - first
  if (wall) for (let i = 0; i < timeS.length; i++) timeS[i] = Math.round(timeS[i]! * 1e6) / 1e6
  const beganS = plan.kind === 'serial-days' ? base - SERIAL_EPOCH : plan.epoch ? base : first
  const set = own.steps.find((step) => step.step_s > DAY_S)?.step_s ?? 0
  // The date that an unset clock took over is the right one; a counter that became a date tells it too.
  const firstS = beganS + (beganS < UNSET_BEFORE_S ? set : 0)
  const becameDate = !wall && plan.kind === 'number' && set > UNSET_BEFORE_S
  const sinceFirst = <T extends { readonly at_s: number }>(each: T): T =>
    wall && !plan.epoch ? { ...each, at_s: each.at_s - first } : each
  return {
    timeS,
    dropped: own.dropped,
    startedAt:
      dated || plan.dateColumn >= 0 || becameDate
        ? isoOf(
            becameDate ? set : firstS,
            becameDate || (plan.epoch && plan.kind === 'number') ? 'Z' : about.zone,
          )
        : (besideStart(plan) ?? preambleStart(about.preamble, plan, first)),
    skipped: own.skipped,
    steps: own.steps.map(sinceFirst),
    repeats: own.repeats.map(sinceFirst),
    notes: [...(plan.assumed ? [plan.assumed] : []), ...own.notes],
  }
}

/** A spreadsheet counts days from 1899-12-30. */
const SERIAL_EPOCH = 25569 * 86400

/** ISO 8601 at the zone as written; without a zone where none was. */
function isoOf(seconds: number, zone: string | null): string | null {
  const plain = zone?.toUpperCase()
  const offset = plain ? /^([+-])(\d{2}):?(\d{2})$/.exec(plain) : null
  const shift = offset
    ? (offset[1] === '-' ? -1 : 1) * (Number(offset[2]) * 3600 + Number(offset[3]) * 60)
    : plain === 'CET'
      ? 3600
      : plain === 'CEST'
        ? 7200
        : 0
  const date = new Date(Math.round((seconds + shift) * 1000))
  if (Number.isNaN(date.getTime())) return null
  const local = date.toISOString().slice(0, -1)
  if (!plain) return local
  if (offset) return `${local}${offset[1]}${offset[2]}:${offset[3]}`
  return `${local}${plain === 'CET' ? '+01:00' : plain === 'CEST' ? '+02:00' : 'Z'}`
}

function besideStart(plan: TimePlan): string | null {
  const read = plan.startText === null ? null : readTimeText(plan.startText, plan.order)
  return read ? isoOf(read.seconds, read.zone) : null
}

/** A date in the lines above the header; with the first clock time where rows carry one. */
function preambleStart(preamble: readonly string[], plan: TimePlan, firstS: number): string | null {
  for (const line of preamble)
    for (const part of line.split(/[;,\t|"=]|: |^\D*?:/)) {
      const read = readTimeText(part, plan.order)
      if (read?.kind === 'stamp') return isoOf(read.seconds, read.zone)
      if (read?.kind === 'date') {
        if (plan.kind === 'clock') return isoOf(read.seconds + firstS, null)
        const clock = line
          .split(/\s+/)
          .map((word) => readTimeText(word))
          .find((each) => each?.kind === 'clock')
        return isoOf(read.seconds + (clock?.seconds ?? 0), null)
      }
    }
  return null
}
