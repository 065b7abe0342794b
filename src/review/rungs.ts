import { namesInWords } from '../../shared/channels.ts'
import { LIMITS, TOUCH_V } from '../../shared/limits.ts'
import type { Reading } from '../../shared/reading.ts'
import type { Question, Review, Rung } from '../../shared/review.ts'
import { conversionTo, convert } from '../../shared/units.ts'
import { plainClause } from '../../shared/wording.ts'
import { RUNG_QUESTIONS } from '../facts/rung-questions.ts'
import { keepsFromDriving } from './verdict.ts'
import { doubtedControl } from './withhold-doubtful.ts'

/** Why a rung is closed; null where it is open. Standing and not ready is always open. */
export type Rungs = Readonly<Record<Rung, string | null>>

type Seen = Pick<Review, 'findings' | 'questions' | 'starts'> & {
  readonly drive: {
    readonly started_at?: string | null
    readonly peak: Pick<Review['drive']['peak'], 'speed_kmh' | 'current_a'>
  }
  /** Taken at the car. */
  readonly readings?: readonly Reading[]
  /** Highest pack voltage of the drive, V. */
  readonly packV?: number | null
}

const NEEDED = [
  ['tracks', 'the accelerator’s tracks'],
  ['isolation', 'isolation'],
  ['contactors', 'the contactors'],
] as const

/** Faster than this on current of its own is a car that moved under its own torque. Common practice, no source. */
const MOVED_KMH = 5
const MOVED_A = 5

/**
 * What a person may be asked to do with the car to find out more (the safety page). Walking pace: nothing says stop,
 * the car is able to drive, no torque without pedal and no lost drive stands unproved, no unit of pedal, brake, isolation
 * or contactors is in doubt, the accelerator's tracks, isolation and contactors are assessed, or
 * isolation and contactors were read at the car after the drive by a named person. The road: braking too.
 */
export function openRungs(seen: Seen): Rungs {
  const walking = walkingClosed(seen)
  const braking = answered(seen.questions, RUNG_QUESTIONS.braking) ? null : 'this log does not assess braking'
  return { standing: null, walking, road: walking ?? braking }
}

function walkingClosed(seen: Seen): string | null {
  if (keepsFromDriving(seen).length > 0) return 'the car cannot drive'
  const stop = seen.findings.find((each) => each.severity === 'stop')
  if (stop) return `a finding says stop: ${plainClause(stop.headline)}`
  const unproved = seen.findings.find(
    ({ kind, severity }) => severity !== 'note' && (kind === 'torque-without-pedal' || kind === 'drive-lost'),
  )
  if (unproved) return `this stands unproved: ${plainClause(unproved.headline)}`
  const doubted = doubtedControl(seen.findings)
  if (doubted !== null) return `the unit of ${namesInWords(doubted)} is in doubt`
  if (!ableToDrive(seen)) return 'the car was not seen able to drive'
  const unseen = NEEDED.filter(
    ([name]) => !answered(seen.questions, RUNG_QUESTIONS[name]) && !readAtCar(seen, name),
  )
  if (unseen.length === 0) return null
  return `this log does not assess ${unseen.map(([, words]) => words).join(', ')}`
}

/** Ready seen, or moved under its own torque, and not lost afterwards. */
function ableToDrive({ starts, drive: { peak } }: Seen): boolean {
  const last = starts.at(-1)
  if (last && (last.lost_s ?? null) !== null) return false
  if (last && (last.reached === 'ready' || last.reached === 'driving')) return true
  return (peak.speed_kmh ?? 0) > MOVED_KMH && (peak.current_a ?? 0) > MOVED_A
}

/** Isolation read above the limit at the pack's highest voltage; the link read down with the contactors open. */
function readAtCar(
  { readings = [], drive: { started_at = null }, packV = null }: Seen,
  name: string,
): boolean {
  const since = readings.filter(
    ({ date }) => started_at === null || date.slice(0, 10) >= started_at.slice(0, 10),
  )
  if (name === 'isolation')
    return since.some(
      ({ kind, value, unit }) =>
        packV !== null &&
        kind.toLowerCase() === 'isolation' &&
        inUnit(value, unit, 'Ω') >= LIMITS.isolation.attention! * packV,
    )
  return (
    name === 'contactors' &&
    since.some(
      ({ place, value, unit }) =>
        /\blink\b/i.test(place) &&
        /contactors? open/i.test(place) &&
        Math.abs(inUnit(value, unit, 'V')) < TOUCH_V,
    )
  )
}

/** NaN where the unit is another quantity's. */
function inUnit(value: Reading['value'], unit: string, wanted: string): number {
  const by = conversionTo(unit, wanted)
  return by && typeof value === 'number' ? convert(value, by) : Number.NaN
}

const answered = (questions: readonly Question[], asked: string): boolean =>
  questions.some(({ question, state }) => question === asked && state !== 'not-assessed')
