import { mean, median, quantile, standardDeviation } from '../../math/stats.ts'
import { LAG_NONE_S } from './press-response.ts'
import { LEAST_LIFT_NM, type RegenRows, rowsWhere } from './regen-rows.ts'
import { type Attempt, askedNm, attempt, better, mapOf, P, type Setup } from './slowing-attempt.ts'
import { FORMS, type Form } from './slowing-map.ts'
import { apartFade, withLagShared } from './slowing-refine.ts'

/** What the drive says outside the presses. */
export interface Known {
  readonly slow: boolean
  readonly periodS: number
  /** Lift-off torque taken as given; `known` says whether drive or vehicle file gave it. */
  readonly liftNm: number
  readonly liftKnown: boolean
  /** As read from coasting; null = not seen. */
  readonly liftFade: readonly [number, number] | null
}

export interface SlowingFit {
  readonly last: Attempt
  readonly rows: RegenRows
  /** Is the form told from its rivals, and the figures of the best rival that is not told from it. */
  readonly formTold: boolean
  readonly rival: Attempt | null
  /** Drive or vehicle file gave the lift-off torque. */
  readonly liftKnown: boolean
  /** A lift-off torque fitted though coasting does not show it, and the fit with it where it was not taken. */
  readonly liftFree: boolean
  readonly withLift: Attempt | null
  /** Where coasting does not show the lift-off part's fade: the fit with a fade of its own. */
  readonly ownFade: Attempt | null
  /** Share of the rows near presses that fell short of the map and left the fit. */
  readonly shortShare: number
}

/**
 * What an added piece (lift-off torque, power cap, play, jump) must better the fit to, as share of its cost. Study:
 * brake maps, 2026-11-27.
 */
const PIECE_GAIN = 0.93
/**
 * The same for a jump that nothing but the fit shows, in logs coarser than this, s; and the least jump, share of the
 * most torque.
 */
const GRID_GAIN = 0.8
const COARSE_LOG_S = 0.04
const LEAST_JUMP = 0.1
const BEGINS_GAIN = 1.03
/** Above this the fades are taken to be over, km/h. */
export const FAST_KMH = 20
/** Short of the map by more than this many spreads and this share of the most torque is held back. Common practice, no source. */
const SHORT_SPREADS = 3
const SHORT_SHARE = 0.08
const SHORT_NM = 3
const SHORT_S = 0.25
/** Rows without which no map is fitted. */
const FEWEST_ROWS = 30
/** A form is told when it fits better by so many standard errors over the presses, and by this share of the cost. */
const FORM_ERRORS = 2
const FORM_GAIN = 0.97

/**
 * Finds map and response, coarse to fine: response of a plain sum; a cap of constant power; the form; moments short of
 * the map leave the fit (limits hold back, they never add); play; jump; last on all rows.
 */
export function slowingFit(
  coarse: RegenRows,
  fine: RegenRows,
  known: Known,
  stepAt: number | null,
): SlowingFit {
  const plain = response(coarse, known)
  let best = withPower(coarse, plain)
  let rows = coarse
  let shortShare = 0
  let judged = bestForm(rows, best)
  best = judged.best
  for (let round = 0; round < 3; round++) {
    const free = freeRows(rows, best)
    const share = 1 - free.nm.length / Math.max(1, rows.nm.length)
    if (share < 0.02 || free.nm.length < FEWEST_ROWS) break
    rows = free
    shortShare = 1 - (1 - shortShare) * (1 - share)
    best = attempt(rows, best.setup, 8, best.fit.parameters)
  }
  best = withStep(rows, best, stepAt, known)
  best = withPlay(rows, best, known)
  const lift = withFreeLift(rows, known, best)
  best = lift.best
  if (best !== judged.best) judged = bestForm(rows, best)
  best = judged.best
  const trimmed = shortShare > 0 ? freeRows(fine, attempt(fine, best.setup, 0, best.fit.parameters)) : fine
  const last = finest(trimmed.nm.length >= FEWEST_ROWS ? trimmed : fine, best, known)
  return {
    last,
    rows: trimmed.nm.length >= FEWEST_ROWS ? trimmed : fine,
    formTold: judged.told,
    rival: judged.rival,
    liftKnown: known.liftKnown,
    liftFree: lift.free,
    withLift: lift.rival,
    ownFade: apartFade(trimmed.nm.length >= FEWEST_ROWS ? trimmed : fine, last),
    shortShare,
  }
}

/** Dead time and lag, of press or torque, under a plain sum. */
function response(rows: RegenRows, known: Known): Attempt {
  const { slow, liftNm, liftFade } = known
  const setup: Setup = {
    form: 'sum',
    liftNm,
    liftFade: liftFade ?? 'same',
    stepAt: null,
    beginsWithStep: false,
    back: 0,
    deadS: 0,
    lagOn: 'torque',
    power: false,
    slow,
  }
  let best: Attempt | null = null
  for (const [start, span] of [
    [0.08, 0.9],
    [0.3, 0.6],
    [0.02, 0.4],
  ] as const)
    best = better(best, attempt(rows, setup, 10, guess(rows, start, span, known)))
  if (slow) return best!
  const step = Math.max(known.periodS, 0.005)
  const settled = best!.fit.parameters
  for (const lagOn of ['torque', 'press'] as const)
    for (let k = lagOn === 'press' ? 0 : 1; k <= 4; k++)
      best = better(best, attempt(rows, { ...setup, lagOn, deadS: k * step }, 3, settled))
  return withoutLag(rows, best!, step)
}

function guess(rows: RegenRows, start: number, span: number, known: Known): Float64Array {
  const top = quantile(rows.press, 0.998)
  const peak = quantile(rows.nm, 0.998)
  return Float64Array.of(
    start * top,
    span * top,
    1.02 * peak,
    4,
    8,
    known.slow ? 0 : 0.02,
    known.liftNm,
    1e7,
    0,
    4,
    8,
  )
}

/**
 * A fit that wants no lag may want the brake's samples moved by less than one of them, either way: a torque read 5 ms
 * before the brake that caused it takes 0.2 bar off the start.
 */
function withoutLag(rows: RegenRows, settled: Attempt, step: number): Attempt {
  let best = settled
  for (let span = step / 2; span > step / 40 && best.fit.parameters[P.lag]! <= LAG_NONE_S; span /= 2)
    for (const deadS of [best.setup.deadS - span, best.setup.deadS + span])
      if (deadS >= -step) best = better(best, attempt(rows, { ...best.setup, deadS }, 3, best.fit.parameters))
  return best
}

/** Constant power at speed, where it explains clearly more. */
function withPower(rows: RegenRows, settled: Attempt): Attempt {
  const from = Float64Array.from(settled.fit.parameters)
  from[P.power] =
    0.95 *
    quantile(
      rows.nm.map((nm, i) => nm * rows.kmh[i]!),
      0.98,
    )
  from[P.brake] = Math.max(from[P.brake]!, quantile(rows.nm, 0.998))
  const capped = attempt(rows, { ...settled.setup, power: true }, 12, from)
  return capped.cost < PIECE_GAIN * settled.cost ? capped : settled
}

/** The form that explains the presses best, and whether its rivals are told from it. */
function bestForm(
  rows: RegenRows,
  settled: Attempt,
): { best: Attempt; told: boolean; rival: Attempt | null } {
  const lift = settled.fit.parameters[P.lift]!
  if (lift < LEAST_LIFT_NM) return { best: settled, told: false, rival: null }
  const all = FORMS.map((form) => ownFade(rows, inForm(rows, settled, form)))
  // a sum, the commonest, stands until another form is clearly better
  const best = all.reduce((a, b) => (b.cost < FORM_GAIN * a.cost ? b : a))
  const rivals = all.filter((each) => each !== best && !toldFrom(rows, best, each))
  return {
    best,
    told: rivals.length === 0,
    rival: rivals.sort((a, b) => a.cost - b.cost)[0] ?? null,
  }
}

/** The lift-off part with a fade of its own, where coasting did not show it and it explains clearly more. */
function ownFade(rows: RegenRows, settled: Attempt): Attempt {
  if (settled.setup.liftFade !== 'same') return settled
  let best = settled
  for (const [low, width] of [
    [1, 1],
    [2, 1.2],
    [0.6, 1],
  ] as const) {
    const from = Float64Array.from(settled.fit.parameters)
    from[P.liftLow] = low * from[P.fade]!
    from[P.liftWidth] = width * from[P.width]!
    best = better(best, attempt(rows, { ...settled.setup, liftFade: 'own' }, 8, from))
  }
  return best.cost < PIECE_GAIN * settled.cost ? best : settled
}

function inForm(rows: RegenRows, settled: Attempt, form: Form): Attempt {
  if (form === settled.setup.form) return settled
  const was = settled.setup.form
  const from = Float64Array.from(settled.fit.parameters)
  const lift = from[P.lift]!
  // the same torque at the top: a sum's brake part stands on the lift-off part, the others' begins from nothing
  const shift = (lift * from[P.span]!) / from[P.brake]!
  if (was === 'sum') {
    from[P.brake] = from[P.brake]! + lift
    const sooner = Math.min(shift, Math.max(0, from[P.start]!))
    from[P.start] = from[P.start]! - sooner
    from[P.span] = from[P.span]! + sooner
  } else if (form === 'sum') from[P.brake] = Math.max(1, from[P.brake]! - lift)
  const setup = { ...settled.setup, form }
  const moved = attempt(rows, setup, 20, from)
  // a brake part that replaces begins where the step down is, not where the slope of a sum meets the axis
  const unmoved = Float64Array.from(from)
  unmoved[P.start] = settled.fit.parameters[P.start]!
  return better(moved, attempt(rows, setup, 12, unmoved))
}

/** Is the first better than the second press by press, not by one press alone? */
function toldFrom(rows: RegenRows, first: Attempt, second: Attempt): boolean {
  if (!(first.cost < FORM_GAIN * second.cost)) return false
  const gain = new Map<number, number>()
  for (let i = 0; i < rows.nm.length; i++) {
    const each = rows.application[i]!
    gain.set(each, (gain.get(each) ?? 0) + second.misfit[i]! - first.misfit[i]!)
  }
  const gains = [...gain.values()]
  if (gains.length < 3) return false
  return mean(gains) > (FORM_ERRORS * standardDeviation(gains)) / Math.sqrt(gains.length)
}

/** The settled fit with lift-off torque left free, from what light presses show. */
function withFreeLift(
  rows: RegenRows,
  known: Known,
  settled: Attempt,
): { best: Attempt; free: boolean; rival: Attempt | null } {
  if (known.liftKnown) return { best: settled, free: false, rival: null }
  const lightest = 0.15 * quantile(rows.press, 0.998)
  const light = rows.nm.filter((_, i) => rows.press[i]! < lightest && rows.kmh[i]! > FAST_KMH)
  const lift = light.length >= 5 ? Math.max(1, quantile(light, 0.3)) : 1
  const from = Float64Array.from(settled.fit.parameters)
  from[P.lift] = lift
  from[P.start] = from[P.start]! + (lift * from[P.span]!) / from[P.brake]!
  from[P.brake] = Math.max(1, from[P.brake]! - lift)
  let best: Attempt | null = null
  for (const lagOn of ['torque', 'press'] as const)
    best = better(best, attempt(rows, { ...settled.setup, liftNm: null, lagOn }, 12, from))
  const free = best!.cost < PIECE_GAIN * settled.cost && best!.fit.parameters[P.lift]! >= LEAST_LIFT_NM
  return free
    ? { best: best!, free: true, rival: null }
    : { best: settled, free: false, rival: best!.fit.parameters[P.lift]! >= LEAST_LIFT_NM ? best : null }
}

/** Play between rising and falling press, where it explains clearly more. */
function withPlay(rows: RegenRows, settled: Attempt, known: Known): Attempt {
  if (known.slow) return settled
  const top = quantile(rows.press, 0.998)
  let best = settled
  const lagFree = Float64Array.from(settled.fit.parameters)
  lagFree[P.lag] = Math.min(lagFree[P.lag]!, 0.03)
  for (const back of [0.015, 0.03, 0.06, 0.12].map((share) => share * top))
    for (const from of [best.fit.parameters, lagFree])
      best = better(best, attempt(rows, { ...settled.setup, back }, 4, from))
  if (!(best.cost < PIECE_GAIN * settled.cost)) return settled
  for (let share = 0.5; share > 0.05; share /= 2)
    for (const back of [best.setup.back * (1 - share), best.setup.back * (1 + share)])
      best = better(best, attempt(rows, { ...best.setup, back }, 4, best.fit.parameters))
  return best
}

/** A jump of the map, at a press that the torque itself showed (slow logs: at any press), where it explains clearly more. */
function withStep(rows: RegenRows, settled: Attempt, stepAt: number | null, known: Known): Attempt {
  const top = quantile(rows.press, 0.998)
  const fast = known.periodS < COARSE_LOG_S
  if (known.slow || (stepAt === null && fast)) return settled
  const peak = quantile(rows.nm, 0.998)
  const places =
    stepAt === null ? [0.05, 0.1, 0.15, 0.22, 0.3, 0.4, 0.55, 0.7].map((share) => share * top) : [stepAt]
  let best: Attempt | null = null
  const tryAt = (at: number, rounds: number): void => {
    for (const beginsWithStep of [false, true]) {
      const from = Float64Array.from(best?.fit.parameters ?? settled.fit.parameters)
      if (!best) {
        from[P.span] = Math.max(from[P.span]!, 0.5 * top)
        from[P.brake] = peak
        from[P.jump] = 0.3 * peak
      }
      const setup = { ...settled.setup, stepAt: at, beginsWithStep }
      const tried = attempt(rows, setup, rounds, from)
      // a ramp that begins just before the jump explains its slewing as well: the plainer map stands
      best = best && beginsWithStep && tried.cost < BEGINS_GAIN * best.cost ? tried : better(best, tried)
    }
  }
  for (const at of places) tryAt(at, 8)
  for (let span = stepAt === null ? 0.05 * top : 1; span > 0.1; span /= 2)
    for (const side of [-1, 1]) tryAt(best!.setup.stepAt! + side * span, 5)
  const jump = best!.fit.parameters[P.jump]!
  return best!.cost < (stepAt === null ? GRID_GAIN : PIECE_GAIN) * settled.cost && jump > LEAST_JUMP * peak
    ? best!
    : settled
}

/** Rows that are not held back: short of the map for longer than a lag explains, or in a press that is weak as a whole. */
function freeRows(rows: RegenRows, fit: Attempt): RegenRows {
  const asked = askedNm(rows, fit)
  const { spread, residuals } = fit.fit
  const short = Math.max(SHORT_NM, SHORT_SPREADS * spread, SHORT_SHARE * quantile(rows.nm, 0.998))
  const weak = weakPresses(rows, asked)
  const held = new Uint8Array(rows.nm.length)
  let from = -1
  for (let i = 0; i <= rows.nm.length; i++) {
    const below = i < rows.nm.length && residuals[i]! < -short && (from < 0 || rows.run[i] === rows.run[from])
    if (below && from < 0) from = i
    if (below || from < 0) continue
    if (rows.timeS[i - 1]! - rows.timeS[from]! >= SHORT_S) held.fill(1, from, i)
    from = -1
  }
  return rowsWhere(rows, (i) => held[i] === 0 && !weak.has(rows.application[i]!))
}

/** Most of the map's torque that a press must ask for to be judged by its strength, and how strong the strong are. */
const JUDGED_SHARE = 0.3
const STRONG_QUANTILE = 0.8
const WEAK = 0.88

/** Presses that got clearly less than the strong ones for what they asked, while enough strong ones stand against them. */
function weakPresses(rows: RegenRows, asked: Float64Array): ReadonlySet<number> {
  const least = JUDGED_SHARE * quantile(asked, 0.95)
  const ratios = new Map<number, number[]>()
  for (let i = 0; i < asked.length; i++) {
    if (asked[i]! < least || rows.kmh[i]! < FAST_KMH) continue
    const list = ratios.get(rows.application[i]!) ?? []
    list.push(rows.nm[i]! / asked[i]!)
    ratios.set(rows.application[i]!, list)
  }
  const typical = new Map(
    [...ratios].filter(([, all]) => all.length >= 3).map(([k, all]) => [k, median(all)]),
  )
  if (typical.size < 4) return new Set()
  const strong = quantile([...typical.values()], STRONG_QUANTILE)
  const weak = new Set([...typical].filter(([, ratio]) => ratio < WEAK * strong).map(([k]) => k))
  return typical.size - weak.size >= 3 ? weak : new Set()
}

function finest(rows: RegenRows, best: Attempt, known: Known): Attempt {
  const { deadS } = best.setup
  let last: Attempt | null = null
  for (const again of new Set([0, deadS])) {
    const from = Float64Array.from(best.fit.parameters)
    from[P.lag] = known.slow ? 0 : Math.max(from[P.lag]!, deadS - again)
    last = better(last, attempt(rows, { ...best.setup, deadS: again }, 10, from))
  }
  return known.slow ? last! : withLagShared(rows, last!)
}

export { mapOf }
