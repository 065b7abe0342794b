import type { Limit } from '../../../shared/limits.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { contactorState } from '../../car/contactor-state.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { OUTSIDE_BOX } from '../../facts/cautions.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { binMeans } from '../../math/bin-means.ts'
import { sampleNoise } from '../../math/sample-noise.ts'
import { overlap, spansWhere } from '../../math/spans.ts'
import { median } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { lvConverter } from '../models/lv-converter.ts'
import { lvLimits } from '../models/lv-limits.ts'

const LOW = 'Did the 12 V supply stay up while driving?'
const CHARGING = 'Did the DC-DC converter take over the 12 V system?'
/** A converter may take this long after the contactors close. Common practice, no source. */
const TAKEOVER_S = 20
/** Shorter dips are loads switching. Common practice, no source. */
const HELD_S = 60
const LOW_HELD_S = 5
/** Under this contactors drop out and control units stop. Common practice, no source. */
const ALIVE_V = 6
/** A converter that gives this much is working. Common practice, no source. */
const WORKING_A = 2

/**
 * Is the 12 V system held up, and by the converter?
 *
 * Model:  one-second means of the 12 V voltage over driving stretches; low: under 10.5 V for over 5 s; not charging:
 *         under 13.0 V (LFP by `lv_chemistry`: 12.0 and 13.5 V) for over a minute, from 20 s after the contactors close,
 *         while the converter gives under 2 A (where its current is logged).
 * Reads:  lv_voltage [V], dcdc_current [A], segments, contactors.
 * Gives:  `lv-voltage-low` and `dcdc-not-charging`, V, median over the stretch.
 * Biased by: where 12 V is measured: at the end of a long lead it reads lower under load.
 * Blind:  dips during a start (the start chain's question), a battery that alone stays above 13 V (an LFP one that
 *         nobody stated).
 * Source: 12 V limit of the program's table; 13.0 V: common practice, no source.
 */
export function supply(facts: Facts): Answer {
  const lv = channel(facts, 'lv_voltage')
  const driving = facts.drive.segments.filter((each) => each.type === 'driving').map((each) => each.span_s)
  if (!lv || driving.length === 0) {
    const missing = lv ? [] : (['lv_voltage'] as const)
    const why = lv ? 'the log holds no driving' : 'the 12 V voltage is not in the log'
    const toAssess = lv ? null : 'Log the 12 V voltage at 1 Hz or faster.'
    const questions = [LOW, CHARGING].map((question) =>
      notAssessed('energy', question, missing, why, toAssess, 'V'),
    )
    return { questions, findings: [] }
  }
  if (!(median(lv.values) > ALIVE_V)) {
    const why = `the 12 V reading stands at ${median(lv.values).toFixed(1)} V, on which no car drives: it is not believed`
    const questions = [LOW, CHARGING].map((question) =>
      notAssessed('energy', question, ['lv_voltage'], why, 'Log the 12 V voltage at the battery.', 'V'),
    )
    return { questions, findings: [] }
  }
  const limits = lvLimits(facts)
  const heard = heardTime(facts.drive.channels, facts.drive.durationS)
  const seconds = heard.evenly(1)
  const volts = binMeans(heard.heardAll(lv.timeS), lv.values, 1, seconds.length)
  const noise = Math.max(lv.step, 2 * (sampleNoise(lv.values) || 0))
  const low = stretches(driving, seconds, volts, limits.low.attention!, LOW_HELD_S)
  const closed = facts.once(contactorState).of('closed')
  const powered = (closed.length > 0 ? overlap(driving, closed) : driving)
    .map(([from, to]): Span => [from + TAKEOVER_S, to])
    .filter(([from, to]) => to > from + HELD_S)
  const limitV = limits.charging.attention!
  const idle = powered.length > 0 ? notWorking(facts, stretches(powered, seconds, volts, limitV, HELD_S)) : []
  const lowFindings = low
    .slice(0, 1)
    .map((span) => sayLow(span, medianIn(span, seconds, volts), noise, limits.low))
  const idleFindings = idle
    .slice(0, 1)
    .map((span) => sayIdle(span, medianIn(span, seconds, volts), noise, limits.charging))
  const questions: Question[] = [
    assessed('energy', LOW, low.length > 0, `Median ${median(volts).toFixed(2)} V.`, {
      value: limits.low.attention! - noise,
      unit: 'V',
      limit: limits.low.attention,
      measured: median(volts),
    }),
    powered.length === 0
      ? notAssessed('energy', CHARGING, [], 'no minute of driving with contactors closed', null, 'V')
      : assessed(
          'energy',
          CHARGING,
          idle.length > 0,
          `From ${TAKEOVER_S} s after the contactors closed, against ${limitV} V.${tookOver(facts)}`,
          { value: limitV - noise, unit: 'V', limit: limitV },
        ),
  ]
  return { questions, findings: [...lowFindings, ...idleFindings] }
}

/** How it took over, and at what load it was seen, in words. */
function tookOver(facts: Facts): string {
  const seen = facts.once(lvConverter)
  if (!seen) return ''
  const { takeoverS, beforeV, afterV, most } = seen
  const rose = `${beforeV.toFixed(1)} V before, ${afterV.toFixed(1)} V after them`
  const when =
    takeoverS === null
      ? ` It stood at ${rose}.`
      : ` It took over ${takeoverS.toFixed(1)} s after they closed: ${rose}.`
  return `${when}${most ? ` At its most, ${most.amps.toFixed(0)} A, it held ${most.volts.toFixed(1)} V.` : ''}`
}

/** Longest first: where the one-second means stay under the limit for at least `heldS` inside the spans. */
function stretches(
  spans: readonly Span[],
  seconds: Float64Array,
  volts: Float64Array,
  limitV: number,
  heldS: number,
): Span[] {
  const under = spansWhere(seconds, (i) => volts[i]! < limitV)
  return overlap(spans, under)
    .filter(([from, to]) => to - from >= heldS)
    .sort((a, b) => b[1] - b[0] - (a[1] - a[0]))
}

/** Leaves out stretches in which the converter's own current shows that it works. */
function notWorking(facts: Facts, spans: readonly Span[]): Span[] {
  const current = channel(facts, 'dcdc_current')
  if (!current) return [...spans]
  return spans.filter(([from, to]) => {
    const moments = Float64Array.from({ length: Math.max(1, Math.floor(to - from)) }, (_, i) => from + i)
    const given = median(linearAt(current, moments, 10))
    return !(Math.abs(given) > WORKING_A)
  })
}

const medianIn = (span: Span, seconds: Float64Array, volts: Float64Array): number =>
  median(volts.filter((_, i) => seconds[i]! >= span[0] && seconds[i]! < span[1]))

function sayLow(span: Span, volts: number, plusMinus: number, limit: Limit): Finding {
  return finding({
    kind: 'lv-voltage-low',
    subject: { type: 'start-step', name: 'supply' },
    span_s: span,
    value: volts,
    unit: 'V',
    plusMinus,
    limit,
    bad: 'below',
    headline: `The 12 V supply was at ${volts.toFixed(1)} V for ${(span[1] - span[0]).toFixed(0)} s while driving.`,
    reason: 'Contactors and control units can drop out when it sinks further.',
    next_step:
      'Charge and test the 12 V battery; measure the drop across its earth strap and fuses under load.',
    channels: ['lv_voltage'],
  })
}

function sayIdle(span: Span, volts: number, plusMinus: number, limit: Limit): Finding {
  return finding({
    kind: 'dcdc-not-charging',
    subject: { type: 'supply' },
    span_s: span,
    value: volts,
    unit: 'V',
    plusMinus,
    limit,
    bad: 'below',
    headline: `The 12 V system stood at ${volts.toFixed(1)} V with the contactors closed: the DC-DC converter does not charge it.`,
    reason: `It stayed under ${limit.attention} V for ${(span[1] - span[0]).toFixed(0)} s.`,
    next_step:
      'Check the converter’s enable signal and output fuse on the 12 V side, then its fuse on the high-voltage side.',
    cautions: [OUTSIDE_BOX],
    channels: ['lv_voltage'],
  })
}
