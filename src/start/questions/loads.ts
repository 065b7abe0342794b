import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type LoadDraw, loadDraws } from '../models/load-draw.ts'
import { heardAfterKey, heardInPrecharge, type LoadStays, loadStays } from '../models/load-stays.ts'

const QUESTION = 'Do cabin heater and cooler draw only when they are asked to?'

/**
 * Does a heater or cooler go on drawing after its request, after the key, or while the link is still precharged?
 *
 * Model:  draw less request, W (`loadStays`): from 10 s after the request fell to nothing, or to under half, while it
 *         drew before and goes on; without a request in the log from 30 s after the key; and within precharge.
 * Reads:  heater_power, cooler_power [W] (else heater_current [A] times the link's voltage), heater_request,
 *         cooler_request, key_on, charge_plug, contactors.
 * Gives:  `load-stays-on` of the load, W beyond what was asked, attention: median of the stretch.
 * Biased by: the power reading's own error (5 %, in the interval); an offset is taken off where the contactors are open.
 * Blind:  a request that does not move the load in this log (then it accuses nobody); a heater that a thermostat of its
 *         own turns off; what draws without a channel of its own.
 * Source: definition; 100 W: common practice, no source.
 */
export function loads(facts: Facts): Answer {
  const all = facts.once(loadDraws)
  if (all.length === 0)
    return unseen(['heater_power', 'cooler_power'], 'no power of heater or cooler is in the log')
  const seen = all.map((load) => ({ load, judged: judgedBy(facts, load), stays: loadStays(facts, load) }))
  const judged = seen.filter(({ judged, stays }) => judged.length > 0 || stays.length > 0)
  if (judged.length === 0)
    return unseen(
      ['heater_request', 'cooler_request'],
      'neither a request, nor a minute with the key off, nor a precharge is logged beside it',
    )
  const findings = judged.flatMap(({ stays }) => (stays[0] ? [say(facts, stays)] : []))
  const why = judged.map(
    ({ load, judged }) => `${load.name}: up to ${load.mostW.toFixed(0)} W, judged ${judged.join(' and ')}`,
  )
  const bar = Math.max(
    ...judged.map(({ load }) => Math.max(facts.limits.loadStays.attention!, 0.05 * load.mostW)),
  )
  return {
    questions: [
      assessed('start', QUESTION, findings.length > 0, `${why.join('; ')}.`, { value: bar, unit: 'W' }),
    ],
    findings,
  }
}

function unseen(missing: Parameters<typeof notAssessed>[2], why: string): Answer {
  const to = 'Log the power of heater and cooler at 2 Hz or faster, and what is asked of them.'
  return { questions: [notAssessed('start', QUESTION, missing, why, to, 'W')], findings: [] }
}

function judgedBy(facts: Facts, load: LoadDraw): string[] {
  return [
    load.request?.asked.includes(0) && load.request.asked.includes(1) ? 'against its request' : '',
    !load.request && heardAfterKey(facts, load) ? 'after the key' : '',
    heardInPrecharge(facts, load) ? 'in precharge' : '',
  ].filter(Boolean)
}

const HEADLINE: Readonly<Record<LoadStays['when'], (stays: LoadStays, watts: string) => string>> = {
  request: ({ load, span_s: [from, to] }, watts) =>
    `The ${load.name} drew ${watts} W beyond what was asked for ${(to - from).toFixed(0)} s`,
  'key-off': ({ load, span_s: [from, to] }, watts) =>
    `The ${load.name} went on drawing ${watts} W for ${(to - from).toFixed(0)} s after the key was off`,
  precharge: ({ load }, watts) =>
    `The ${load.name} drew ${watts} W while the link was still filled through the precharge resistor`,
}

const WHY: Readonly<Record<LoadStays['when'], string>> = {
  request: 'It drew before its request fell, and went on',
  'key-off': 'It drew before the key was turned, nothing is plugged in, and it went on',
  precharge: 'A load on the link holds the precharge back and heats its resistor',
}

function say(facts: Facts, stays: readonly LoadStays[]): Finding {
  const [worst] = stays as [LoadStays]
  const { load, when, span_s, beyondW, plusMinusW } = worst
  const more = stays.length - 1
  const precharging = when === 'precharge'
  return finding({
    kind: 'load-stays-on',
    subject: { type: 'load', name: load.name },
    span_s,
    value: beyondW,
    unit: 'W',
    plusMinus: plusMinusW,
    limit: facts.limits.loadStays,
    severity: 'attention',
    question: QUESTION,
    headline: HEADLINE[when](worst, beyondW.toFixed(0)),
    reason: `${WHY[when]}${more > 0 ? `; so it did ${more} more time${more === 1 ? '' : 's'}` : ''}.`,
    next_step: `Measure the switch-on line of the ${load.name} with the key off: it must read no voltage while nothing is asked. Then look at its relay or driver, which may stick.`,
    cautions: [OUTSIDE_BOX, ...(precharging ? [DC_LINK] : [])],
    channels: [
      ...load.channels,
      ...(load.request ? [load.request.id] : []),
      ...logged(
        facts,
        precharging ? (['link_voltage', 'contactor_precharge'] as const) : (['key_on'] as const),
      ),
    ],
  })
}
