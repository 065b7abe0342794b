import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type PrechargeRun, prechargeRuns } from '../models/precharge-runs.ts'
import { tauRatio } from '../models/precharge-time.ts'

/**
 * Is precharge as fast as resistor and capacitance of the vehicle file make it?
 *
 * Model: τ = C · R · V∞ / V; the ratio of the fitted τ to it is 1 where the parts are what the file says.
 * Reads: link_voltage, pack_voltage [V]; `precharge.resistor_ohm` and `link_farad`.
 * Gives: `precharge-time-off` [ratio].
 * Blind: resistor and capacitance off together, one up and one down.
 * Biased by: a filtered link sensor (τ too long).
 * Source: textbook RC; limit: common practice, no source.
 */
export function prechargeTime(facts: Facts): Answer {
  const ask = 'Is precharge as fast as the vehicle file’s resistor and capacitance make it?'
  const runs = facts.once(prechargeRuns)
  const known = runs.filter((run) => tauRatio(facts, run) !== null)
  if (known.length === 0) {
    const file = facts.vehicle.precharge?.resistor_ohm && facts.vehicle.precharge.link_farad
    const why = !file
      ? 'the vehicle file gives no resistor and capacitance'
      : 'no precharge curve with five samples in its rise'
    const toLog = file ? 'Log the link voltage at 50 Hz or faster.' : 'Enter both in the vehicle file.'
    return { questions: [notAssessed('start', ask, file ? ['link_voltage'] : [], why, toLog)], findings: [] }
  }
  const findings = timeConstantFinding(facts, known)
  const ratios = known.map((run) => tauRatio(facts, run)!.toFixed(2)).join(', ')
  return {
    questions: [
      assessed(
        'start',
        ask,
        findings.length > 0,
        `measured time against what resistor and capacitance make: ${ratios} times`,
        {
          value: TAU_NOTE,
          unit: 'times the expected time',
        },
      ),
    ],
    findings,
  }
}

/** Further off than tolerances and a filtered sensor go. Common practice, no source. */
const TAU_LIMIT = 2.5
const TAU_NOTE = 1.4

/** A curve much slower or faster than R·C of the vehicle file: resistor, capacitance or the file is not what it says. */
function timeConstantFinding(facts: Facts, runs: readonly PrechargeRun[]): Finding[] {
  const off = runs
    .map((run) => ({ run, ratio: tauRatio(facts, run) }))
    .filter((each): each is { run: PrechargeRun; ratio: number } => each.ratio !== null)
    .sort((a, b) => Math.abs(Math.log(b.ratio)) - Math.abs(Math.log(a.ratio)))
  const worst = off[0]
  if (!worst || Math.abs(Math.log(worst.ratio)) < Math.log(TAU_NOTE)) return []
  const { run, ratio } = worst
  const slow = ratio > 1
  const times = slow ? ratio : 1 / ratio
  return [
    finding({
      kind: 'precharge-time-off',
      subject: { type: 'precharge' },
      span_s: [run.startS, run.endS],
      value: ratio,
      unit: '',
      low: (run.tau!.low / run.tau!.value) * ratio,
      high: (run.tau!.high / run.tau!.value) * ratio,
      limit: { attention: TAU_LIMIT, stop: null, unit: '', source: 'common practice, no source' },
      severity: times > TAU_LIMIT ? 'attention' : 'note',
      headline: `Precharge is ${times.toFixed(1)} times ${slow ? 'slower' : 'faster'} than resistor and capacitance of the vehicle file make it`,
      reason: `Time constant ${run.tau!.value.toFixed(3)} s: ${
        slow
          ? 'a higher resistor, more capacitance on the link than the file says, or a slow link sensor'
          : 'a lower resistor, or capacitance missing from the link (a consumer not connected, a capacitor worn out)'
      }.`,
      next_step:
        'Compare the vehicle file with the parts fitted; then isolate, wait, prove dead and measure the precharge resistor.',
      cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
      channels: ['link_voltage'],
    }),
  ]
}
