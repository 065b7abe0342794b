import { namesInWords } from '../../shared/channels.ts'
import type { Question, Review, Rung } from '../../shared/review.ts'
import { plainClause } from '../../shared/wording.ts'
import { RUNG_QUESTIONS } from '../facts/rung-questions.ts'
import { keepsFromDriving } from './verdict.ts'
import { doubtedControl } from './withhold-doubtful.ts'

/** Why a rung is closed; null where it is open. Standing and not ready is always open. */
export type Rungs = Readonly<Record<Rung, string | null>>

type Seen = Pick<Review, 'findings' | 'questions' | 'starts'> & {
  readonly drive: { readonly peak: Pick<Review['drive']['peak'], 'speed_kmh' | 'current_a'> }
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
 * or contactors is in doubt, the accelerator's tracks, isolation and contactors are assessed. The road: braking too.
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
  const unseen = NEEDED.filter(([name]) => !answered(seen.questions, RUNG_QUESTIONS[name]))
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

const answered = (questions: readonly Question[], asked: string): boolean =>
  questions.some(({ question, state }) => question === asked && state !== 'not-assessed')
