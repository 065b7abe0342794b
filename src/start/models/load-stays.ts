import type { Span } from '../../../shared/units.ts'
import { contactorState } from '../../car/contactor-state.ts'
import type { Facts } from '../../facts/facts.ts'
import { insideEach, spansWhere } from '../../math/spans.ts'
import { median, quantile, robustSpread } from '../../math/stats.ts'
import { heldAt, samplePeriod, staleAfter } from '../../samples/on-one-clock.ts'
import type { LoadDraw } from './load-draw.ts'

/** A stretch in which a load drew what nobody had asked of it. */
export interface LoadStays {
  readonly load: LoadDraw
  readonly when: 'request' | 'key-off' | 'precharge'
  readonly span_s: Span
  /** Drawn beyond what was asked, median over the stretch, W; and half of its 95 % interval. */
  readonly beyondW: number
  readonly plusMinusW: number
}

/** A compressor may run down, a heater's switch may answer, for so long after the request; held at least as long, s. */
const SETTLE_S = 10
const HELD_S = 10
/** Contactors may stay closed, and units run on, for so long after the key; no source. */
const AFTER_KEY_S = 30
/** It follows a request if it draws in so much of the time asked (a thermostat may rest in the remainder); no source. */
const FOLLOWS_SHARE = 0.15
/** A thermostat may rest for so long across the fall; what ran before may run down for so long into a new request, s. */
const RESTS_S = 15
const RUN_DOWN_S = 5
/** A power reading's own error. Common practice, no source. */
const READING_SHARE = 0.05
/** A share of its most that says it is on, whatever the limit. */
const ON_SHARE = 0.05
/** Clocks of two boxes, and a filter, may shift a draw into a precharge by so much, s; no source. */
const SHIFT_S = 0.1

/** Every stretch of every kind that a load shows; longest first. */
export function loadStays(facts: Facts, load: LoadDraw): LoadStays[] {
  const bar = Math.max(facts.limits.loadStays.attention!, ON_SHARE * load.mostW)
  return [...afterRequest(load, bar), ...afterKey(facts, load, bar), ...inPrecharge(facts, load, bar)].sort(
    (a, b) => length(b) - length(a),
  )
}

const length = ({ span_s: [from, to] }: LoadStays): number => to - from

/** The request fell to nothing, or to under half, and the load goes on as before. */
function afterRequest(load: LoadDraw, bar: number): LoadStays[] {
  const { request, timeS, watts } = load
  if (!request) return []
  const allowed = watts.map((_, i) => barAt(request.askedW, i, bar))
  return spansWhere(timeS, (i) => watts[i]! > allowed[i]!).flatMap(([from, to]) => {
    const settled: Span = [from + SETTLE_S, to]
    if (!(settled[1] - settled[0] >= HELD_S) || !drewAsAsked(load, from, bar)) return []
    return measured(load, 'request', [from, to], settled, request.askedW)
  })
}

/**
 * Was it asked until shortly before, and did it draw in that time? What begins by itself later is another thing's doing,
 * and a request that is logged the other way round, or for another load, accuses nobody.
 */
function drewAsAsked({ request, timeS, watts }: LoadDraw, fromS: number, bar: number): boolean {
  let i = firstAtOrAfter(timeS, fromS) - 1
  while (i >= 0 && request!.asked[i] !== 1 && fromS - timeS[i]! < RESTS_S) i--
  if (i < 0 || request!.asked[i] !== 1) return false
  let first = i
  while (first > 0 && request!.asked[first - 1] === 1) first--
  let asked = 0
  let drew = 0
  for (let k = first; k <= i; k++) {
    if (timeS[k]! < timeS[first]! + RUN_DOWN_S) continue
    asked++
    if (watts[k]! > bar) drew++
  }
  return drew > 0 && drew >= FOLLOWS_SHARE * asked
}

/** More than this is not what was asked: half of the fall above the new request, at least the limit. */
function barAt(askedW: Float64Array, i: number, bar: number): number {
  const now = askedW[i]!
  if (!Number.isFinite(now)) return Number.POSITIVE_INFINITY
  return now === 0 ? bar : Math.max(now + bar, 2 * now)
}

/** Without a request in the log: the key was turned off while it drew, nothing is plugged in, and it goes on. */
function afterKey(facts: Facts, load: LoadDraw, bar: number): LoadStays[] {
  const { timeS, watts, request } = load
  const key = facts.drive.channels.get('key_on')
  if (request || !key || key.polarity === null) return []
  const on = heldAt(key, timeS, staleAfter(key))
  const plug = facts.drive.channels.get('charge_plug')
  const plugged = plug ? heldAt(plug, timeS) : null
  return spansWhere(timeS, (i) => on[i] === 0 && watts[i]! > bar && plugged?.[i] !== 1).flatMap(
    ([from, to]) => {
      const start = firstAtOrAfter(timeS, from)
      const drewBefore = start > 0 && on[start - 1] === 1 && watts[start - 1]! > bar
      const settled: Span = [from + AFTER_KEY_S, to]
      if (!drewBefore || !(settled[1] - settled[0] >= AFTER_KEY_S)) return []
      return measured(load, 'key-off', [from, to], settled, null)
    },
  )
}

/** It draws while the link is still filled through the resistor, and did not "draw" before there was anything on it. */
function inPrecharge(facts: Facts, load: LoadDraw, bar: number): LoadStays[] {
  const { timeS, watts } = load
  const shift = Math.max(SHIFT_S, Math.min(1, samplePeriod(timeS) || 0) / 2)
  return facts
    .once(contactorState)
    .of('precharging')
    .flatMap(([from, to]) => {
      const inside: Span = [from + SHIFT_S, to - shift]
      const during = picked(timeS, watts, inside)
      const before = picked(timeS, watts, [from - 3, from - SHIFT_S])
      if (during.length < 2 || before.some((each) => each > bar / 2)) return []
      if (!(quantile(during, 0.5) > bar)) return []
      return measured(load, 'precharge', [from, to], inside, null)
    })
}

function measured(
  load: LoadDraw,
  when: LoadStays['when'],
  span: Span,
  settled: Span,
  askedW: Float64Array | null,
): LoadStays[] {
  const { timeS, watts } = load
  const beyond = picked(timeS, askedW ? watts.map((each, i) => each - askedW[i]!) : watts, settled)
  if (beyond.length < 2) return []
  const value = median(beyond)
  const spread = robustSpread(beyond)
  const drift = Math.abs(quantile(beyond, 0.75) - quantile(beyond, 0.25)) / 2
  return [
    {
      load,
      when,
      span_s: span,
      beyondW: value,
      plusMinusW: Math.hypot(
        READING_SHARE * value,
        (1.96 * 1.25 * spread) / Math.sqrt(beyond.length),
        when === 'precharge' ? drift : 0,
      ),
    },
  ]
}

const picked = (timeS: Float64Array, values: Float64Array, span: Span): Float64Array => {
  const inside = insideEach([span], timeS)
  return values.filter((value, i) => inside[i] === 1 && Number.isFinite(value))
}

const firstAtOrAfter = (timeS: Float64Array, atS: number): number => timeS.findIndex((each) => each >= atS)

/** Is the load heard in a precharge, so that a draw in it would have shown? */
export function heardInPrecharge(facts: Facts, { timeS }: LoadDraw): boolean {
  return facts
    .once(contactorState)
    .of('precharging')
    .some(([from, to]) => timeS.filter((each) => each > from + SHIFT_S && each < to - SHIFT_S).length >= 2)
}

/** Is it heard with the key off, so that going on after it would have shown? */
export function heardAfterKey(facts: Facts, { timeS }: LoadDraw): boolean {
  const key = facts.drive.channels.get('key_on')
  if (!key || key.polarity === null) return false
  const on = heldAt(key, timeS, staleAfter(key))
  return spansWhere(timeS, (i) => on[i] === 0).some(([from, to]) => to - from > 2 * AFTER_KEY_S)
}
