import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { MOVING_KMH } from '../../drive/motion.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INERTIA, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { duration, overlap, spansWhere } from '../../math/spans.ts'
import { median } from '../../math/stats.ts'
import { losses } from '../models/start-losses.ts'
import { speedChannel } from '../models/start-sequences.ts'
import {
  type Held,
  samplesIn,
  startSignals,
  stretches,
  switchTrack,
  type Track,
} from '../models/start-signals.ts'
import { type JudgedAttempt, judgedAttempts } from '../models/start-verdicts.ts'
import { wakingUp } from '../models/waking.ts'

/**
 * Did a loop open, a plug stay in, or the 12 V supply fail a start?
 *
 * Model: every stretch in which a loop reads open with the key on, however short; it is weighed by what followed: a
 *   failed attempt, a loss of drive, or nothing. Plug and selector are in the way where an attempt waits on them.
 * Reads: interlock_closed, inertia_closed, charge_plug, selector, key_on, speed [km/h], lv_voltage [V].
 * Gives: `interlock-open`, `inertia-switch-open`, `charge-plug-in`, `selector-not-neutral` [s], `lv-voltage-low` [V]
 *   where it stopped a start.
 * Biased by: a switch logged slower than it opens.
 * Blind: an opening between two samples; a switch whose polarity nothing proves.
 * Source: common practice, no source; 12 V: `LIMITS`.
 */
export function loops(facts: Facts): Answer {
  const { interlock, inertia } = facts.once(startSignals)
  const opened = [...loopFinding(facts, interlock, 'interlock'), ...loopFinding(facts, inertia, 'inertia')]
  const inTheWay = [...waitFinding(facts, 'plug'), ...waitFinding(facts, 'selector'), ...supplyFinding(facts)]
  return { questions: [question(facts, opened.length > 0)], findings: [...opened, ...inTheWay] }
}

const LOOPS = {
  interlock: {
    kind: 'interlock-open',
    id: 'interlock_closed',
    label: 'interlock loop',
    next: 'Look at every connector, cover and service plug of the loop for one that is not fully home; then halve the loop with a meter, its supply off.',
    cautions: ['Do not bridge the loop.', OUTSIDE_BOX, DC_LINK],
  },
  inertia: {
    kind: 'inertia-switch-open',
    id: 'inertia_closed',
    label: 'inertia switch',
    next: 'Ask what happened before it opened; look at the switch, its mounting and its connector.',
    cautions: [INERTIA, DC_LINK],
  },
} as const

function loopFinding(facts: Facts, track: Track | null, name: 'interlock' | 'inertia'): Finding[] {
  if (!track) return []
  const { kind, id, label, next, cautions } = LOOPS[name]
  const { key } = facts.once(startSignals)
  const keyed = stretches(key, (v) => v === 1, facts.drive.durationS)
  const withKey = (held: Held): boolean =>
    !key || keyed.some((on) => held.startS < on.endS && held.endS > on.startS)
  const open = stretches(track, (v) => v === 0, facts.drive.durationS)
    .filter(withKey)
    .filter((held) => !wakingUp(held))
  if (open.length === 0) return []
  const blocked = facts.once(judgedAttempts).filter((each) => each.firstFailed === name)
  const lost = facts.once(losses).filter((loss) => loss.events.some((event) => event.step === name))
  const consequence = blocked.length + lost.length > 0
  const longest = open.reduce((a, b) => (b.endS - b.startS > a.endS - a.startS ? b : a))
  const seconds = longest.endS - longest.startS
  const step = Number.isFinite(track.periodS) ? track.periodS : 0
  const steady = open.length > 1 || longest.to === null || seconds > 1.5 * step
  const moving = open.filter((held) => speedNear(facts, held.startS) > MOVING_KMH)
  const what = [
    blocked.length > 0
      ? `${blocked.length} ${blocked.length === 1 ? 'attempt' : 'attempts'} to start failed with it open`
      : '',
    lost.length > 0 ? `drive was lost with it at ${lost[0]!.atS.toFixed(2)} s` : '',
    !consequence ? 'what follows in the chain carried on' : '',
    moving.length > 0 ? `${moving.length} of ${open.length} openings came while moving` : '',
  ].filter((part) => part !== '')
  return [
    finding({
      kind,
      subject: { type: 'start-step', name },
      span_s: [longest.startS, longest.endS],
      onset_s: open[0]!.startS,
      value: seconds,
      unit: 's',
      low: Math.max(0, seconds - step),
      high: longest.to === null ? null : seconds + step,
      bound: longest.to === null || !Number.isFinite(longest.from.earliestS) ? 'at-least' : 'exact',
      limit: null,
      severity: moving.length > 0 && (consequence || steady) ? 'stop' : consequence ? 'attention' : 'note',
      headline: `The ${label} opened with the key on${open.length > 1 ? ` ${open.length} times` : ''}, longest ${seconds < 1 ? `${(seconds * 1000).toFixed(0)} ms` : `${seconds.toFixed(1)} s`}`,
      reason: `${id} reads open from ${longest.startS.toFixed(2)} s for ${seconds.toFixed(2)} s; ${what.join('; ')}.`,
      next_step: next,
      cautions: [...cautions],
      channels: logged(facts, [id, 'key_on', 'contactor_positive', 'speed']),
    }),
  ]
}

function speedNear(facts: Facts, atS: number): number {
  const values = samplesIn(speedChannel(facts), atS - 1.5, atS + 0.1).values
  return Math.abs(values.at(-1) ?? 0)
}

const WAITS = {
  plug: {
    kind: 'charge-plug-in',
    id: 'charge_plug',
    bad: (v: number) => v === 1,
    headline: 'The charge plug signal says in while the car was to start',
    next: 'See whether the plug is in. If it is out, look at the inlet’s detection contact and wire.',
  },
  selector: {
    kind: 'selector-not-neutral',
    id: 'selector',
    bad: (v: number) => v !== 0,
    headline: 'The selector was in gear while the car waited to become ready',
    next: 'Move the selector through its positions with the signal watched: it follows, or selector or wire is at fault.',
  },
} as const

/** A plug or a selector that an attempt waited on: attention where the attempt failed by it, note where it came through. */
function waitFinding(facts: Facts, name: 'plug' | 'selector'): Finding[] {
  const track = facts.once(startSignals)[name]
  if (!track) return []
  const { kind, id, bad, headline, next } = WAITS[name]
  const judged = facts.once(judgedAttempts)
  const failed = judged.filter((each) => each.firstFailed === name)
  if (failed.length === 0) return []
  const came = judged.some(
    (each) => each.firstFailed === null && each.attempt.number > failed.at(-1)!.attempt.number,
  )
  const waits = failed.map((each) => inTheWay(facts, track, each, bad))
  const longest = waits.reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a))
  const seconds = longest[1] - longest[0]
  const step = Number.isFinite(track.periodS) ? track.periodS : 0
  return [
    finding({
      kind,
      subject: { type: 'start-step', name },
      span_s: longest,
      value: seconds,
      unit: 's',
      low: Math.max(0, seconds - step),
      high: seconds + step,
      limit: null,
      severity: came ? 'note' : 'attention',
      headline,
      reason: `${failed.length} ${failed.length === 1 ? 'attempt' : 'attempts'} waited on it, the longest ${seconds.toFixed(1)} s${came ? '; a later attempt came through' : ''}.`,
      next_step: next,
      cautions: name === 'selector' ? ['Wheels chocked, parking brake on.'] : [],
      channels: logged(facts, [id, 'key_on', 'drive_ready']),
    }),
  ]
}

function inTheWay(
  facts: Facts,
  track: Track,
  each: JudgedAttempt,
  bad: (value: number) => boolean,
): [number, number] {
  const { startS, endS } = each.attempt
  const held = stretches(track, bad, facts.drive.durationS)
    .map((stretch): [number, number] => [Math.max(stretch.startS, startS), Math.min(stretch.endS, endS)])
    .filter(([from, to]) => to > from)
  return held.length > 0 ? held.reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a)) : [startS, startS]
}

/** Longer than a coil pulling in, s. Common practice, no source. */
const LOW_S = 1
/** A low stretch of driving longer than this is the supply analysis' to tell, s. */
const TOLD_ELSEWHERE_S = 5

/**
 * The 12 V supply under its limit with the key on: in an attempt that failed by it, before drive ready in one that came
 * through, or where drive was lost by it. While driving another analysis watches it.
 */
function supplyFinding(facts: Facts): Finding[] {
  const lv = facts.drive.channels.get('lv_voltage')
  const limit = facts.limits.lvVoltage
  const judged = facts.once(judgedAttempts)
  const low = spansWhere(lv?.timeS ?? [], (i) => lv!.values[i]! < (limit.attention ?? 10.5)).filter(
    ([from, to]) => to - from >= LOW_S,
  )
  const failed = judged.filter((each) => each.firstFailed === 'supply')
  const lost = facts.once(losses).filter((loss) => loss.events[0]!.step === 'supply')
  const slack = 1
  const watched = judged.flatMap((each): Span[] => {
    const { startS, endS } = each.attempt
    if (each.firstFailed === 'supply' || lost.some((loss) => loss.judged === each))
      return [[startS, endS + slack]]
    return each.outcome.ready ? [[startS, each.outcome.ready.atS]] : []
  })
  const spans = overlap(watched, low).filter(([from, to]) => to - from >= LOW_S)
  const driving = facts.drive.segments.filter((each) => each.type === 'driving').map((each) => each.span_s)
  if (spans.length === 0 || duration(overlap(driving, low)) > TOLD_ELSEWHERE_S) return []
  const [fromS, toS] = spans.reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a))
  const { values } = samplesIn(lv, fromS, toS)
  const volts = median(values)
  const what =
    failed.length > 0
      ? `${failed.length} ${failed.length === 1 ? 'attempt' : 'attempts'} failed with it`
      : lost.length > 0
        ? 'drive was lost with it'
        : 'the car started all the same'
  return [
    finding({
      kind: 'lv-voltage-low',
      subject: { type: 'start-step', name: 'supply' },
      span_s: [fromS, toS],
      value: volts,
      unit: 'V',
      plusMinus: 0.1,
      limit,
      bad: 'below',
      headline: `The 12 V supply was at ${volts.toFixed(1)} V with the key on`,
      reason: `Median of ${values.length} readings in ${(toS - fromS).toFixed(1)} s, lowest ${Math.min(...values).toFixed(2)} V; ${what}.`,
      next_step:
        '12 V battery at its posts with the key on, then at the control unit’s supply and earth pins, each with a meter.',
      cautions: [],
      channels: logged(facts, ['lv_voltage', 'key_on']),
    }),
  ]
}

function question(facts: Facts, found: boolean): Question {
  const ask = 'Did the interlock loop or the inertia switch open with the key on?'
  const seen = (['interlock_closed', 'inertia_closed'] as const)
    .map((id) => switchTrack(facts, id))
    .filter((track) => track !== null)
  const missing = unlogged(facts, ['interlock_closed', 'inertia_closed'])
  if (seen.length === 0)
    return notAssessed(
      'start',
      ask,
      missing,
      missing.length === 2 ? 'neither loop is logged' : 'nothing proves which value of the loop means open',
      'Log both loops at 50 Hz or by events.',
      's',
    )
  const slowest = Math.max(...seen.map((track) => (Number.isFinite(track.periodS) ? track.periodS : 0)))
  return assessed('start', ask, found, `watched: ${seen.map((track) => track.id).join(', ')}`, {
    value: slowest > 0 ? slowest : null,
    unit: 's',
  })
}
