import type { MapOutcome, MapVerdict } from '../../shared/map-outcome.ts'
import type { RegenMap, Review } from '../../shared/review.ts'
import { numberText } from '../../shared/wording.ts'
import { mapOfReview } from '../brake/models/replay.ts'
import { bendsOf, type SlowingMap, slowingNm } from '../brake/models/slowing-map.ts'

type Regen = NonNullable<Review['regen']>
type Point = MapOutcome['points'][number]

/** A stored drive, as far as a map that was set is judged by it. */
export interface DriveOfMap {
  readonly id: string
  readonly title: string
  readonly review: Review
}

/** Asked and measured differ where they are apart by more than both intervals, this share and this torque; no source. */
const SAME_SHARE = 0.06
const SAME_NM = 2
/** A line's own error where its most is only a bound, share; no source. */
const BOUND_SHARE = 0.04
/** Points between start and full. */
const BETWEEN = [0.25, 0.5, 0.75] as const
const ABOVE_KMH = 200

/**
 * A map that somebody set, against the first drive after it: asked, predicted and measured at its breakpoints.
 *
 * Model:  asked = the map, lift-off and how the two join as the drive before showed them (`slowing-map.ts`); predicted =
 *         asked, with the error that the drive before gave its own map; measured = the line of the drive after.
 * Gives:  a verdict a breakpoint: as asked; less, and which limit held most of the braking back; more: stop and look.
 * Blind:  presses that the drive after did not reach ("not seen"); what the map does while it fades.
 */
export function mapOutcome(
  tried: { readonly map: RegenMap; readonly at: string; readonly by: string },
  before: DriveOfMap | null,
  after: DriveOfMap | null,
): MapOutcome {
  const then = before?.review.regen ?? null
  const now = after?.review.regen ?? null
  const asked = mapOfReview(tried.map, drivenOf(then ?? now))
  const points = breakpoints(asked).map((bar): Point => pointOf(bar, asked, then, now))
  return {
    map: tried.map,
    at: tried.at,
    by: tried.by,
    before: before?.id ?? null,
    drive: after?.id ?? null,
    title: after?.title ?? null,
    points,
    figures: now ? figuresOf(tried.map, then, now) : [],
    sentence: sentenceOf(points, after),
  }
}

/** Form and lift-off part of a drive, as its review keeps them; nothing else of it counts. */
function drivenOf(regen: Regen | null): SlowingMap {
  const fade = regen?.fade_kmh ?? [3, 10]
  return {
    form: regen?.form ?? 'sum',
    start: 0,
    full: 1,
    brakeNm: 0,
    fade: [fade[0], fade[1]],
    liftNm: regen?.lift_nm ?? 0,
    liftFade: regen?.lift_fade_kmh ?? [fade[0], fade[1]],
    step: null,
  }
}

function breakpoints(asked: SlowingMap): number[] {
  const { start, full } = asked
  const inside = BETWEEN.map((share) => start + share * (full - start))
  return [...new Set([...bendsOf(asked, ABOVE_KMH), ...inside].map((bar) => Math.round(bar * 10) / 10))]
    .filter((bar) => bar > 0)
    .sort((a, b) => a - b)
}

function pointOf(bar: number, asked: SlowingMap, then: Regen | null, now: Regen | null): Point {
  const nm = slowingNm(asked, bar, ABOVE_KMH)
  const was = then ? onLine(then, bar) : null
  const is = now ? onLine(now, bar) : null
  const predictedError = then ? errorAt(then, bar, nm) : null
  const measuredError = now && is !== null ? errorAt(now, bar, is) : null
  const slack = Math.max(SAME_NM, SAME_SHARE * nm, Math.hypot(predictedError ?? 0, measuredError ?? 0))
  const verdict: MapVerdict =
    is === null ? 'not-seen' : is > nm + slack ? 'more' : is < nm - slack ? 'less' : 'as-asked'
  return {
    bar,
    before_nm: was,
    asked_nm: nm,
    predicted_nm: nm,
    predicted_nm_plus_minus: predictedError,
    measured_nm: is,
    measured_nm_plus_minus: measuredError,
    verdict,
    why: whyOf(verdict, now),
  }
}

/** The drive's own line at a press; null beyond what it showed. */
function onLine({ curve }: Regen, bar: number): number | null {
  for (let k = 1; k < curve.length; k++) {
    const [a, b] = [curve[k - 1]!, curve[k]!]
    if (bar < a[0] || bar > b[0]) continue
    return b[0] > a[0] ? a[1] + ((bar - a[0]) / (b[0] - a[0])) * (b[1] - a[1]) : b[1]
  }
  return null
}

/** What start and most of a drive's map may be off by, as torque at a press, 95 %. */
function errorAt(regen: Regen, bar: number, nm: number): number {
  const slope = ((onLine(regen, bar + 0.5) ?? nm) - (onLine(regen, Math.max(0, bar - 0.5)) ?? nm)) / 1
  const most = regen.max_nm_plus_minus
  const share = most !== null && regen.max_nm ? most / regen.max_nm : BOUND_SHARE
  return Math.hypot(Math.abs(slope) * (regen.start_bar_plus_minus ?? 0.5), share * nm)
}

function whyOf(verdict: MapVerdict, now: Regen | null): string {
  if (verdict === 'as-asked') return 'within both intervals'
  if (verdict === 'not-seen') return now ? 'no press of this drive went so far' : 'no drive after it yet'
  if (verdict === 'more')
    return 'stop and look: compare the table in the controller with what was asked before driving on'
  const limit = now?.limited_by[0]
  return limit && (now?.limited_share_percent ?? 0) > 0
    ? `${limit.cause} held ${numberText(now!.limited_share_percent)} % of the braking back`
    : 'no limit held it back: look whether the controller took the table over, and at its own ceiling'
}

/** What a proposal foretold of the same map, beside what the drive after shows. */
function figuresOf(map: RegenMap, then: Regen | null, now: Regen): MapOutcome['figures'] {
  const proposal = then?.proposals.find((each) => alike(each.map, map))
  const foretold = proposal?.replays.find((each) => each.driver === 'same-deceleration')
  const [was, is] = [then?.replays[0], now.replays[0]]
  const row = (
    what: string,
    unit: string,
    before: number | null | undefined,
    predicted: readonly [number | null | undefined, number | null | undefined],
    measured: readonly [number | null | undefined, number | null | undefined],
  ): MapOutcome['figures'][number] => {
    const [p, pm] = [predicted[0] ?? null, predicted[1] ?? null]
    const [m, mm] = [measured[0] ?? null, measured[1] ?? null]
    const both = p !== null && m !== null && (pm !== null || mm !== null)
    return {
      what,
      unit,
      before: before ?? null,
      predicted: p,
      predicted_plus_minus: pm,
      measured: m,
      measured_plus_minus: mm,
      within: both ? Math.abs(p - m) <= Math.hypot(pm ?? 0, mm ?? 0) : null,
    }
  }
  return [
    row(
      'slowing per bar',
      'm/s² per bar',
      was?.deceleration_per_bar,
      [foretold?.deceleration_per_bar, foretold?.deceleration_per_bar_plus_minus],
      [is?.deceleration_per_bar, is?.deceleration_per_bar_plus_minus],
    ),
    row(
      'energy recovered, of what was drawn (route and driver count too)',
      '%',
      then?.share_percent,
      [foretold?.share_percent, null],
      [now.share_percent, now.share_percent_plus_minus],
    ),
    row(
      'worst departure from even slowing per bar',
      '%',
      feel(then),
      [proposal?.uneven_percent, null],
      [feel(now), null],
    ),
    row(
      'braking held back by a limit',
      '%',
      then?.limited_share_percent,
      [null, null],
      [now.limited_share_percent, now.limited_share_percent_plus_minus],
    ),
  ]
}

const feel = (regen: Regen | null): number | null =>
  regen?.feel.find((each) => each.what === 'worst departure from even slowing per bar')?.value ?? null

const alike = (a: RegenMap, b: RegenMap): boolean =>
  [a.start_bar - b.start_bar, a.full_bar - b.full_bar, a.max_nm - b.max_nm].every((d) => Math.abs(d) < 0.06)

function sentenceOf(points: readonly Point[], after: DriveOfMap | null): string {
  if (!after) return 'No drive after it is stored yet: drive, log brake pressure and torque, and store it.'
  const of = (verdict: MapVerdict): Point[] => points.filter((each) => each.verdict === verdict)
  const [more, less, seen] = [of('more'), of('less'), points.length - of('not-seen').length]
  if (more.length > 0)
    return `More than asked at ${bars(more)}: stop and look, compare the table in the controller with what was asked.`
  if (less.length > 0) return `Less than asked at ${bars(less)}: ${less[0]!.why}.`
  return seen === 0
    ? 'No press of the next drive reached the map: nothing can be told of it.'
    : `As asked at ${seen} of ${points.length} breakpoints${seen < points.length ? '; harder presses were not seen' : ''}.`
}

const bars = (points: readonly Point[]): string =>
  `${points.map((each) => numberText(each.bar)).join(', ')} bar`
