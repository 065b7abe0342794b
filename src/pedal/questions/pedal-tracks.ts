import type { ChannelId } from '../../../shared/channels.ts'
import type { Finding, Question, Review } from '../../../shared/review.ts'
import { endPoints } from '../../car/pedal-ends.ts'
import { type PedalTravel, pedalTravel } from '../../car/pedal-travel.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { RUNG_QUESTIONS } from '../../facts/rung-questions.ts'
import { type HeldRun, runsAbove } from '../../math/held-runs.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { pedalContext } from '../models/pedal-context.ts'
import { type PedalMismatch, pedalMismatch } from '../models/pedal-mismatch.ts'
import { pedalRange, RANGE_HELD_S, type TrackRange } from '../models/pedal-range.ts'

const AGREE = RUNG_QUESTIONS.tracks
const RANGE = 'Do both accelerator tracks stay inside their valid voltage?'
const TRACKS = ['pedal_track_1', 'pedal_track_2'] as const
const CHECK_WIRING =
  'Key off, 12 V isolated: check the pedal\u2019s plug and wires for water, play and chafing; then, key on with the drive disabled, press slowly and watch both tracks.'
const KEEP_CUT = 'Do not widen the plausibility limit or its time to make the message go away.'

/**
 * Do the accelerator's two tracks agree, and do they stay inside their range?
 *
 * Model:  travel = (reading − released) / (pressed − released) · 100 for each track; |track 1 − track 2|, skew between
 *         the tracks taken out, must not stay over the limit for longer than its time (see `pedalMismatch`).
 * Reads:  pedal_track_1, pedal_track_2 [V, % or counts]; key_on, pedal_supply_*, lv_voltage [V].
 * Gives:  `pedal-mismatch` [points of travel: the largest difference held past the time], `pedal-out-of-range` [V],
 *         `pedal-tracks-equal`, and the `pedal` section with the margin figure.
 * Biased by: skew between the two tracks’ samples (taken out), end points learned from a short travel.
 * Blind:  end points learned from the drive hide an offset or gain error that lasts the whole drive; a mismatch shorter
 *         than the log's sampling. One that the sampling cannot time is reported as undecided, never cleared.
 * Source: Formula Student rules T11.8.8, T11.8.9 (more than 10 points for more than 100 ms), FSAE rules T.4.2.4, T.4.2.5.
 */
export function pedalTracks(facts: Facts): Answer {
  const missing = unlogged(facts, TRACKS)
  const travel = facts.once(pedalTravel)
  const mismatch = facts.once(pedalMismatch)
  const questions: Question[] = []
  const findings: Finding[] = []
  if (travel && mismatch) {
    const { found, question } = judgeMismatch(facts, travel, mismatch)
    findings.push(...found)
    questions.push(question)
  } else questions.push(unseen(facts, missing))
  const ranges = facts.once(pedalRange)
  findings.push(...ranges.flatMap((range) => judgeRange(facts, range)))
  questions.push(rangeQuestion(ranges, findings, missing))
  return {
    questions,
    findings,
    ...(travel ? { sections: { pedal: section(travel, mismatch) } } : {}),
    assumptions: travel
      ? [
          {
            what: 'pedal end points, track 1 and 2, released to pressed',
            value: `${span(travel.ends.track1)}; ${span(travel.ends.track2)}`,
            unit: travel.ends.unit,
            source: travel.ends.how,
          },
        ]
      : [],
  }
}

const span = ([from, to]: readonly [number, number]): string => `${from.toFixed(2)} \u2192 ${to.toFixed(2)}`

function unseen(facts: Facts, missing: readonly ChannelId[]): Question {
  const why =
    missing.length === 0
      ? (facts.once(endPoints)?.how ?? 'the tracks hold too few readings')
      : facts.drive.channels.has('pedal_position')
        ? 'only the controller\u2019s own pedal position is logged: it hides how the two tracks compare'
        : `not logged: ${missing.join(', ')}`
  return notAssessed(
    'pedal',
    AGREE,
    missing,
    why,
    'log both tracks in volts at 100 Hz, key on, and press the pedal slowly to its stop and back with the drive disabled',
    'points',
  )
}

function judgeMismatch(
  facts: Facts,
  travel: PedalTravel,
  mismatch: PedalMismatch,
): { found: Finding[]; question: Question } {
  const { limitPoints, limitS, held } = mismatch
  const found: Finding[] = []
  const proven = mismatch.runs.filter((run) => run.atLeastS > limitS + 1e-9)
  const undecided = mismatch.runs.filter(
    (run) => run.atLeastS <= limitS + 1e-9 && run.atMostS > limitS + 1e-9,
  )
  const limitMs = Math.round(limitS * 1000)
  const equal = equalTracks(facts, travel)
  if (equal) found.push(equal)
  if (proven.length > 0 && held && held.value > limitPoints)
    found.push(mismatchFinding(facts, travel, mismatch, proven))
  else if (undecided.length > 0) found.push(undecidedFinding(facts, travel, mismatch, undecided))
  const margin = held
    ? `worst held difference ${held.value.toFixed(1)} % of travel at ${travel.timeS[held.first]!.toFixed(1)} s, limit ${limitPoints}`
    : 'no two readings far enough apart to time a difference'
  const rate = `tracks read every ${(travel.sampleS * 1000).toFixed(0)} ms`
  const least =
    limitPoints + 1.28 * Math.SQRT2 * travel.noisePoints + (travel.ends.from === 'learned' ? 0.5 : 0)
  const longest = limitS + 2 * travel.sampleS
  const why = `${margin}; ${rate}, so a difference held for ${(longest * 1000).toFixed(0)} ms would have shown; end points: ${travel.ends.how}`
  if (proven.length === 0 && undecided.length > 0)
    return {
      found,
      question: notAssessed(
        'pedal',
        AGREE,
        [],
        `${undecided.length} difference${undecided.length === 1 ? '' : 's'} over ${limitPoints} % of travel that this log cannot time: ${rate}, so it may or may not have lasted ${limitMs} ms`,
        'log both tracks at 100 Hz or faster',
        'points',
      ),
    }
  if (!held)
    return { found, question: notAssessed('pedal', AGREE, [], why, 'log both tracks at 100 Hz', 'points') }
  return {
    found,
    question: assessed('pedal', AGREE, found.length > 0, why, { value: least, unit: 'points' }),
  }
}

function mismatchFinding(
  facts: Facts,
  travel: PedalTravel,
  mismatch: PedalMismatch,
  proven: readonly HeldRun[],
): Finding {
  const held = mismatch.held!
  const worst = proven.find((run) => run.first <= held.first && run.last >= held.last) ?? proven[0]!
  const from = travel.timeS[worst.first]!
  const to = travel.timeS[worst.last]!
  const context = pedalContext(facts, travel, proven)
  const others = proven.length > 1 ? ` It happened ${proven.length} times in this drive.` : ''
  const { limitPoints, limitS } = mismatch
  return finding({
    kind: 'pedal-mismatch',
    subject: { type: 'pedal', ...(context.jumped ? { name: `track ${context.jumped}` } : {}) },
    span_s: [from, to + travel.sampleS],
    value: held.value,
    unit: 'points',
    plusMinus: mismatch.heldPlusMinus,
    bound: travel.ends.fullTravelKnown ? 'exact' : 'at-most',
    limit: { ...facts.limits.pedalMismatch, stop: limitPoints },
    stopOnEstimate: true,
    headline: `The accelerator\u2019s tracks differ by ${held.value.toFixed(1)} % of travel for ${seconds(worst)}`,
    reason:
      `Track 1 and track 2 stood more than ${limitPoints} % of travel apart for ${seconds(worst)}, longer than ${Math.round(limitS * 1000)} ms, from ${from.toFixed(1)} s on.${others} ${context.sentences.join(' ')}`.trim(),
    next_step: CHECK_WIRING,
    cautions: [KEEP_CUT, LOCAL_RULES],
    channels: TRACKS,
  })
}

/** What the sampling proves about a run: "8.99 to 9.01 s". */
function seconds(run: HeldRun): string {
  const most = Number.isFinite(run.atMostS) ? run.atMostS.toFixed(2) : 'more'
  return `${run.atLeastS.toFixed(2)} to ${most} s`
}

/** Over the limit, but the sampling cannot say for how long: attention where the likelier length is past the time. */
function undecidedFinding(
  facts: Facts,
  travel: PedalTravel,
  mismatch: PedalMismatch,
  undecided: readonly HeldRun[],
): Finding {
  const worst = undecided.reduce((a, b) => (b.peak > a.peak ? b : a))
  const { limitPoints, limitS } = mismatch
  const likely = undecided.some(
    (run) => (run.atLeastS + Math.min(run.atMostS, run.atLeastS + 2 * travel.sampleS)) / 2 > limitS + 1e-9,
  )
  return finding({
    kind: 'pedal-mismatch',
    subject: { type: 'pedal' },
    span_s: [travel.timeS[worst.first]!, travel.timeS[worst.last]! + travel.sampleS],
    value: worst.peak,
    unit: 'points',
    plusMinus: mismatch.heldPlusMinus,
    limit: { ...facts.limits.pedalMismatch, stop: limitPoints },
    severity: likely ? 'attention' : 'note',
    headline: `The accelerator\u2019s tracks differ by ${worst.peak.toFixed(1)} % of travel for a time that this log cannot tell`,
    reason: `The difference passed ${limitPoints} % of travel and lasted ${seconds(worst)}; tracks read every ${(travel.sampleS * 1000).toFixed(0)} ms cannot show whether that was longer than ${Math.round(limitS * 1000)} ms. It is not cleared.`,
    next_step: 'Log both tracks at 100 Hz or faster and repeat; meanwhile treat the pedal as unproven.',
    cautions: [KEEP_CUT, LOCAL_RULES],
    channels: TRACKS,
  })
}

/**
 * Raw tracks equal: over the whole drive (two like tracks, or shorted to each other; the log cannot tell), or for a
 * time in a pair that mirrors itself otherwise (their wires touch: both then read the middle, so travel shows nothing).
 */
function equalTracks(_facts: Facts, travel: PedalTravel): Finding | null {
  const whole = travel.ends.relation === 'shorted' && travel.ends.from === 'learned'
  const run = whole ? null : equalRun(travel)
  if (!whole && !run) return null
  const from = travel.timeS[run?.first ?? 0]!
  const to = travel.timeS[run?.last ?? travel.timeS.length - 1]!
  return finding({
    kind: 'pedal-tracks-equal',
    subject: { type: 'pedal' },
    span_s: [from, to],
    value: to - from,
    unit: 's',
    plusMinus: travel.sampleS,
    limit: {
      attention: null,
      stop: JUMPED_S,
      unit: 's',
      source: 'FSAE rules T.4.2.3; Formula Student rules T11.8.6 (a short between the tracks must show)',
    },
    severity: whole ? 'attention' : 'stop',
    headline: whole
      ? 'Both accelerator tracks read the same all the time'
      : `Both accelerator tracks read the same volts for ${(to - from).toFixed(1)} s`,
    reason: whole
      ? 'Track 1 and track 2 are equal over the whole drive. Either the pedal has two like tracks, which a short between them would hide, or they are shorted together. A pair that mirrors each other or has different slopes would show it.'
      : `From ${from.toFixed(1)} s on both tracks read the same volts to within their noise instead of mirroring each other: their signal wires touch, and the travel they give then means nothing.`,
    next_step: whole
      ? 'Put the pedal\u2019s end points in the vehicle file; key off, measure between both signal wires.'
      : CHECK_WIRING,
    cautions: [KEEP_CUT, LOCAL_RULES],
    channels: TRACKS,
  })
}

/** A foot does not hold a mirrored pair at its crossing to within the noise for so long, s. */
const EQUAL_S = 8
/** It is enough after both tracks jumped there from one reading to the next, s; only fast logs show a jump. */
const JUMPED_S = 0.5
const JUMP_POINTS = 8
const JUMP_SLOWEST_S = 0.03

function equalRun(travel: PedalTravel): HeldRun | null {
  const { track1, track2, relation } = travel.ends
  if (relation !== 'mirrored' || !travel.ends.trusted) return null
  const perPoint = Math.abs(track1[1] - track1[0]) / 100
  const noise = Math.SQRT2 * travel.noisePoints * perPoint
  const near = Math.max(3.5 * noise, 0.25 * perPoint)
  const apart = travel.raw1.map((value, i) => value - travel.raw2[i]!)
  const equal = apart.map((value) => (Math.abs(value) < near ? 1 : 0))
  const jumped = (run: HeldRun): boolean =>
    travel.sampleS <= JUMP_SLOWEST_S &&
    run.first > 0 &&
    Math.abs(travel.travel1[run.first]! - travel.travel1[run.first - 1]!) > JUMP_POINTS
  const runs = runsAbove(travel.timeS, equal, 0.5).filter((run) => {
    if (run.atLeastS < (jumped(run) ? JUMPED_S : EQUAL_S)) return false
    const inside = apart.subarray(run.first, run.last + 1)
    return Math.abs(median(inside)) < noise && robustSpread(inside) < 1.5 * noise
  })
  // readings away from the crossing prove that the pair mirrors in this drive
  const slope = (track2[1] - track2[0]) / (track1[1] - track1[0])
  const crossing = track1[0] + (track2[0] - track1[0]) / (1 - slope)
  const away = travel.raw1.some((value) => Math.abs(value - crossing) > 20 * perPoint)
  return away && runs.length > 0 ? runs.reduce((a, b) => (b.atLeastS > a.atLeastS ? b : a)) : null
}

function judgeRange(facts: Facts, range: TrackRange): Finding[] {
  const proven = range.runs.filter((run) => run.atLeastS > RANGE_HELD_S + 1e-9)
  if (proven.length === 0) return []
  const worst = proven.reduce((a, b) => (b.atLeastS > a.atLeastS ? b : a))
  const low = worst.readingV < range.low
  const from = range.timeS[worst.first]!
  const bar = low ? range.low : range.high
  const limit = low ? facts.limits.pedalLowV : facts.limits.pedalHighV
  const given = facts.vehicle.pedal?.valid_v !== undefined
  return [
    finding({
      kind: 'pedal-out-of-range',
      subject: { type: 'pedal', index: range.track },
      span_s: [from, range.timeS[worst.last]! + range.sampleS],
      value: worst.readingV,
      unit: 'V',
      plusMinus: 0.02,
      limit: {
        attention: null,
        stop: bar,
        unit: 'V',
        source: `${given ? 'vehicle file' : limit.source}; held for more than 100 ms: FSAE rules T.4.2.5`,
      },
      bad: low ? 'below' : 'above',
      stopOnEstimate: true,
      headline: `Accelerator track ${range.track} reads ${worst.readingV.toFixed(2)} V, outside ${range.low} to ${range.high} V`,
      reason: `For ${seconds(worst)} from ${from.toFixed(1)} s on track ${range.track} read ${worst.readingV.toFixed(2)} V${proven.length > 1 ? `, one of ${proven.length} times` : ''}; that looks like ${worst.looks}.`,
      next_step: CHECK_WIRING,
      cautions: [KEEP_CUT, LOCAL_RULES],
      channels: [`pedal_track_${range.track}`],
    }),
  ]
}

function rangeQuestion(
  ranges: readonly TrackRange[],
  findings: readonly Finding[],
  missing: readonly ChannelId[],
): Question {
  if (ranges.length === 0)
    return notAssessed(
      'pedal',
      RANGE,
      missing,
      missing.length > 0 ? `not logged: ${missing.join(', ')}` : 'the tracks are not logged in volts',
      'log both tracks in volts',
      'V',
    )
  const short = ranges
    .flatMap((range) => range.runs)
    .filter((run) => run.atLeastS <= RANGE_HELD_S && run.atMostS > RANGE_HELD_S)
  const nearest = Math.min(...ranges.map((range) => range.marginV))
  if (!Number.isFinite(nearest))
    return notAssessed(
      'pedal',
      RANGE,
      [],
      'no reading of a track can be believed',
      'log both tracks in volts',
      'V',
    )
  const sampleS = Math.max(...ranges.map((range) => range.sampleS))
  const found = findings.some((each) => each.kind === 'pedal-out-of-range')
  if (!found && short.length > 0)
    return notAssessed(
      'pedal',
      RANGE,
      [],
      `a reading outside the range that this log cannot time (every ${(sampleS * 1000).toFixed(0)} ms)`,
      'log both tracks at 100 Hz',
      'V',
    )
  return assessed(
    'pedal',
    RANGE,
    found,
    `${ranges.length === 2 ? 'both tracks' : 'one track'} read; nearest approach to a limit ${nearest.toFixed(2)} V; a failure of ${((RANGE_HELD_S + 2 * sampleS) * 1000).toFixed(0)} ms would have shown`,
    {
      value: 0.02,
      unit: 'V past the limit',
    },
  )
}

function section(travel: PedalTravel, mismatch: PedalMismatch | null): NonNullable<Review['pedal']> {
  const { ends } = travel
  const volts = ends.unit === 'V' && ends.trusted
  return {
    track_1_v: volts ? [...ends.track1] : null,
    track_2_v: volts ? [...ends.track2] : null,
    end_points_from: ends.trusted ? ends.from : 'unknown',
    relation: ends.relation,
    worst_held_points: mismatch?.held?.value ?? null,
    worst_held_points_plus_minus: mismatch?.held ? mismatch.heldPlusMinus : null,
    worst_held_at_s: mismatch?.held ? travel.timeS[mismatch.held.first]! : null,
    skew_s: mismatch?.skewS ?? null,
    skew_s_plus_minus: mismatch?.skewPlusMinusS ?? null,
    gain_ratio: mismatch?.gainRatio ?? null,
    offset_points: mismatch?.offsetPoints ?? null,
    noise_points: ends.trusted ? travel.noisePoints : null,
    hysteresis_points: mismatch?.hysteresisPoints ?? null,
    sample_s: travel.sampleS,
  }
}
