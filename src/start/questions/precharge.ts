import type { Finding, PrechargeRow, Question } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type PrechargeRun, prechargeRuns } from '../models/precharge-runs.ts'
import { tauRatio } from '../models/precharge-time.ts'
import { voltages } from '../models/precharge-voltages.ts'
import { type JudgedAttempt, judgedAttempts } from '../models/start-verdicts.ts'

/** A rise beyond these against R·C is told: parts' tolerances explain less; no source. */
const SLOW_RATIO = 1.3
/** See above. */
const FAST_RATIO = 0.7
/** Over a minute a resistor has cooled from the attempt before; common practice, no source. */
const COOLS_S = 60

/**
 * Does precharge bring the link to the pack's voltage, and what does its curve say?
 *
 * Model: v(t) = V∞ + (V0 − V∞) e^(−t/τ); V∞ = V · load / (load + R); τ = C · R · V∞ / V (`models/precharge-physics.ts`).
 * Reads: link_voltage, pack_voltage or all cells [V]; contactors or bms_state for start and end; pack_current [A].
 * Gives: `precharge[]`; `precharge-incomplete` [% of pack voltage] and `precharge-open` [V], with 95 % intervals.
 * Blind: under 5 samples in the rise only the end value, and only as a bound where it was still moving.
 * Biased by: two voltage sensors' gains (compared with the contactors closed, where the log shows it; else 1.5 %),
 *   the resistor's tolerance (5 %), a filtered link sensor (τ too long, V∞ unharmed).
 * Source: textbook RC; limit: ready percent of the vehicle file, else Formula Student EV5.7.1 (95 %).
 */
export function precharge(facts: Facts): Answer {
  const runs = facts.once(prechargeRuns)
  const judged = facts.once(judgedAttempts)
  const failing = judged.filter((each) => each.attempt.run && each.firstFailed === 'precharge')
  const early = judged.filter((each) => each.attempt.run?.closing && heldOf(each, 'precharge') === false)
  const findings: Finding[] = []
  const kinds = new Map<string, JudgedAttempt[]>()
  for (const each of [...failing, ...early.filter((e) => !failing.includes(e))]) {
    const kind = kindOf(each.attempt.run!)
    if (kind) kinds.set(kind, [...(kinds.get(kind) ?? []), each])
  }
  for (const [kind, attempts] of kinds)
    findings.push(
      kind === 'precharge-open' ? openFinding(facts, attempts) : incompleteFinding(facts, attempts),
    )
  return {
    questions: [question(facts, runs, findings.length > 0)],
    findings,
    sections: { precharge: runs.map((run) => rowOf(facts, run, runs)) },
  }
}

const heldOf = (each: JudgedAttempt, name: string): boolean | null =>
  each.steps.find(({ step }) => step.name === name)?.verdict.held ?? null

/** Under this share of pack voltage the link did not rise. Common practice, no source. */
const NO_RISE_PERCENT = 8

function kindOf(run: PrechargeRun): 'precharge-open' | 'precharge-incomplete' | null {
  if (!run.reached) return null
  if (run.reached.value >= NO_RISE_PERCENT) return 'precharge-incomplete'
  return run.shorted ? 'precharge-incomplete' : 'precharge-open'
}

const readyPercent = (facts: Facts): number =>
  facts.vehicle.precharge?.ready_percent ?? facts.limits.prechargeReached.attention ?? 95

function worst(attempts: readonly JudgedAttempt[]): PrechargeRun {
  const runs = attempts.map((each) => each.attempt.run!)
  const best = runs.filter((run) => run.fit !== null)
  return (best.length > 0 ? best : runs).reduce((a, b) => (b.reached!.value < a.reached!.value ? b : a))
}

const ohms = (value: number): string =>
  value >= 10000 ? `${(value / 1000).toFixed(0)} kΩ` : `${Number(value.toPrecision(3))} Ω`

function incompleteFinding(facts: Facts, attempts: readonly JudgedAttempt[]): Finding {
  const run = worst(attempts)
  const reached = run.reached!
  const limit = readyPercent(facts)
  const stillRising = run.fit !== null && !run.levelled
  return finding({
    kind: 'precharge-incomplete',
    subject: { type: 'precharge' },
    span_s: [attempts[0]!.attempt.run!.startS, attempts.at(-1)!.attempt.run!.endS],
    value: reached.value,
    unit: '%',
    low: reached.low,
    high: run.bound === 'at-least' ? 100 : reached.high,
    bound: run.bound,
    limit: {
      attention: limit,
      stop: null,
      unit: '%',
      source:
        facts.vehicle.precharge?.ready_percent !== undefined
          ? 'vehicle file'
          : facts.limits.prechargeReached.source,
    },
    bad: 'below',
    headline:
      run.shorted && reached.value < NO_RISE_PERCENT
        ? 'Precharge carries current but the link stays down: a short or heavy load across the link'
        : `Precharge stops at ${reached.value.toFixed(1)} % of pack voltage`,
    reason: `${shortfall(facts, attempts, run, limit).join('; ')}.`,
    next_step: stillRising
      ? 'Compare resistor and capacitance with the vehicle file: isolate, prove dead, measure the precharge resistor.'
      : 'Find which consumer on the link draws during start (heater, DC-DC, air-conditioning): isolate, wait, prove dead, then measure across the link and unplug consumers one by one.',
    cautions: [
      DC_LINK,
      OUTSIDE_BOX,
      INSIDE_BOX,
      'A resistor that was heated by repeated attempts may be hot or damaged.',
    ],
    rivals: [
      {
        kind: 'precharge-open',
        subject: { type: 'precharge' },
        likelihood_ratio: null,
        for: 'a resistor of far higher value also leaves the link low',
        against: run.levelled ? 'the curve levels off, a high resistor would go on rising' : 'a rise is seen',
        decided_by: 'resistance of the precharge resistor, isolated and proved dead',
      },
    ],
    channels: ['link_voltage', ...logged(facts, facts.once(voltages).packFrom)],
    evidence_s: [run.startS, run.endS],
  })
}

/** How far the link came, and what that fits. */
function shortfall(
  facts: Facts,
  attempts: readonly JudgedAttempt[],
  run: PrechargeRun,
  limit: number,
): string[] {
  const { resistor_ohm, link_farad } = facts.vehicle.precharge ?? {}
  const rc = resistor_ohm && link_farad ? resistor_ohm * link_farad : null
  const reasons = [
    `The link reached ${bounded(run)}${run.reached!.value.toFixed(1)} % of the pack’s ${run.packV.toFixed(0)} V, and ${limit} % is asked for`,
  ]
  if (run.load && run.levelled)
    reasons.push(
      `that fits a load of ${ohms(run.load.value)} (${ohms(run.load.low)} to ${ohms(run.load.high)}) across the link behind the ${ohms(resistor_ohm ?? Number.NaN)} resistor`,
    )
  if (run.tau)
    reasons.push(
      `time constant ${run.tau.value.toFixed(3)} s${rc ? `; resistor and capacity of the vehicle file make ${rc.toFixed(3)} s` : ''}`,
    )
  if (run.fit !== null && !run.levelled) reasons.push('the curve was still rising when it was given up')
  if (run.closing) reasons.push('the positive contactor closed all the same')
  const heat = attempts.reduce((sum, each) => sum + (each.attempt.run?.heatJ ?? 0), 0)
  if (attempts.length > 1 && heat > 0)
    reasons.push(`${attempts.length} attempts put ${heat.toFixed(0)} J into the precharge resistor`)
  return reasons
}

const bounded = (run: PrechargeRun): string => (run.bound === 'at-least' ? 'at least ' : '')

function openFinding(facts: Facts, attempts: readonly JudgedAttempt[]): Finding {
  const run = worst(attempts)
  const rise = Math.max(0, run.topV - (Number.isFinite(run.beforeV) ? run.beforeV : 0))
  const off = run.packV * facts.once(voltages).linkRatioPlusMinus + 1
  const current =
    run.steadyA === null
      ? 'whether current flowed cannot be seen, so a short across the link is not ruled out'
      : `the pack current changed by ${run.steadyA.toFixed(1)} A, so a short across the link is unlikely`
  return finding({
    kind: 'precharge-open',
    subject: { type: 'precharge' },
    span_s: [attempts[0]!.attempt.run!.startS, attempts.at(-1)!.attempt.run!.endS],
    value: rise,
    unit: 'V',
    low: Math.max(0, rise - off),
    high: rise + off,
    limit: {
      attention: (NO_RISE_PERCENT / 100) * run.packV,
      stop: null,
      unit: 'V',
      source: 'common practice, no source',
    },
    bad: 'below',
    headline: `The link did not rise: the precharge path is open`,
    reason: `With the precharge path commanded the link rose by ${rise.toFixed(1)} V of the pack’s ${run.packV.toFixed(0)} V in ${(run.endS - run.startS).toFixed(2)} s; ${current}.`,
    next_step:
      'Isolate, wait, prove dead, then measure the precharge resistor and its fuse; then the precharge contactor’s coil and wire.',
    cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
    rivals: [
      {
        kind: 'precharge-incomplete',
        subject: { type: 'precharge' },
        likelihood_ratio: null,
        for: 'a shorted link also stays down',
        against:
          run.steadyA === null ? 'nothing in this log' : 'no current of pack voltage ÷ resistor flowed',
        decided_by: 'pack current during precharge; resistance across the link, isolated and proved dead',
      },
    ],
    channels: ['link_voltage', ...logged(facts, facts.once(voltages).packFrom)],
    evidence_s: [run.startS, run.endS],
  })
}

function rowOf(facts: Facts, run: PrechargeRun, all: readonly PrechargeRun[]): PrechargeRow {
  const half = (each: { low: number; high: number } | null): number | null =>
    each && Number.isFinite(each.high - each.low) ? (each.high - each.low) / 2 : null
  const notes: string[] = []
  if (run.assessedFrom === 'duration') notes.push('no link sample in the run: only its duration is seen')
  if (run.assessedFrom === 'end-value') notes.push('too few of them for a curve, so the figures are bounds')
  const ratio = tauRatio(facts, run)
  if (ratio !== null) {
    if (ratio > SLOW_RATIO || ratio < FAST_RATIO)
      notes.push(
        `it rose ${ratio.toFixed(2)} times as slowly as the vehicle file’s resistor and capacitance make it: one of them, or the sensor’s filter, differs`,
      )
  }
  const recent = all.filter((each) => each.endS <= run.endS && run.startS - each.endS < COOLS_S)
  const heat = recent.reduce((sum, each) => sum + (each.heatJ ?? 0), 0)
  if (recent.length > 1 && heat > 0)
    notes.push(`${recent.length} runs within a minute: ${heat.toFixed(0)} J in the resistor`)
  const bound = run.assessedFrom === 'curve' ? run.bound : 'at-least'
  const unbounded = run.load !== null && !Number.isFinite(run.load.high)
  return {
    span_s: [run.startS, run.endS],
    assessed_from: run.assessedFrom,
    samples_in_rise: run.samplesInRise,
    reached_percent: run.reached?.value ?? null,
    reached_percent_plus_minus: bound === 'exact' ? half(run.reached) : null,
    tau_s: run.tau?.value ?? null,
    tau_s_plus_minus: half(run.tau),
    load_ohm: run.load && !unbounded && run.fit ? run.load.value : null,
    load_ohm_low: run.load?.low ?? null,
    load_ohm_high: run.load && !unbounded ? run.load.high : null,
    energy_j: run.heatJ,
    bound,
    note: notes.length > 0 ? notes.join('; ') : null,
  }
}

const ASKED = 'Does precharge bring the link to the pack’s voltage?'

function question(facts: Facts, runs: readonly PrechargeRun[], found: boolean): Question {
  const missing = unlogged(facts, ['link_voltage', 'pack_voltage', 'contactor_precharge'])
  const seen = runs.filter((run) => run.reached !== null)
  if (seen.length === 0)
    return notAssessed(
      'start',
      ASKED,
      missing,
      runs.length > 0
        ? 'no link voltage sample falls inside a precharge'
        : missing.includes('link_voltage')
          ? 'the link voltage is not logged'
          : 'the log shows no precharge',
      'Log link and pack voltage at 50 Hz or faster from before the key is turned.',
      '%',
    )
  const finest = seen.reduce((best, run) => {
    const half = run.bound === 'exact' ? (run.reached!.high - run.reached!.low) / 2 : 100
    return Math.min(best, half)
  }, 100)
  const smallest = finest < 100 ? Math.max(0, 100 - readyPercent(facts)) + finest : null
  const curves = seen.filter((run) => run.assessedFrom === 'curve').length
  return assessed(
    'start',
    ASKED,
    found,
    `${seen.length} precharge${seen.length === 1 ? '' : 's'} seen, ${curves} by ${curves === 1 ? 'its curve' : 'their curves'}${
      curves < seen.length ? ', the others by end values and bounds only' : ''
    }`,
    { value: smallest, unit: '% of pack voltage missing' },
  )
}
