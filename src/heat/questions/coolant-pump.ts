import type { Finding } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { coolantFlow } from '../models/coolant-flow.ts'
import { type PumpEffect, pumpEffect } from '../models/pump-effect.ts'

const QUESTION = 'Does coolant flow when the pump is told to run?'
/** A loop that carries so much heat has a flow, whatever its sensor says, l/min. */
const CARRIES_LITRES = 1

/**
 * Does coolant flow when the pump is told to run?
 *
 * Model:  `pumpEffect`: the logged flow against the command, and against its own usual at that command.
 * Reads:  coolant_flow [l/min], pump_duty [%] or coolant_pump (0/1, polarity proved).
 * Gives:  `pump-without-flow`, s: the longest time, attention; a note where the heat that the coolant carries shows a flow.
 * Biased by: a flow that is read late or averaged over seconds.
 * Blind:  without a logged flow (then the heat balance of the coolant's own question may tell); a pump that runs slow.
 * Source: definition; times and shares: common practice, no source.
 */
export function coolantPump(facts: Facts): Answer {
  const effect = facts.once(pumpEffect)
  if (!effect || effect.untold) {
    const missing = effect ? [] : unlogged(facts, ['coolant_flow'])
    const noCommand = effect ? [] : unlogged(facts, ['pump_duty', 'coolant_pump'])
    const all = [...missing, ...(noCommand.length === 2 ? noCommand : [])]
    const why = effect?.untold ?? 'flow and command of the coolant pump are not both in the log'
    const to = effect ? null : 'Log the coolant’s flow and the pump’s duty or its switch.'
    return { questions: [notAssessed('heat', QUESTION, all, why, to, 's')], findings: [] }
  }
  const { idle, toldS, usualLitres } = effect
  const usual =
    usualLitres === null
      ? 'no flow was seen at all'
      : `usually ${usualLitres.toFixed(1)} l/min at full command`
  return {
    questions: [
      assessed('heat', QUESTION, idle.length > 0, `Told to run for ${toldS.toFixed(0)} s; ${usual}.`, {
        value: 12,
        unit: 's',
      }),
    ],
    findings: idle.length > 0 ? [say(facts, effect, usual)] : [],
  }
}

function say(facts: Facts, { idle, channels, usualLitres }: PumpEffect, usual: string): Finding {
  const [from, to] = idle.reduce((a, b): Span => (b[1] - b[0] > a[1] - a[0] ? b : a))
  const carried = usualLitres === null ? facts.once(coolantFlow) : null
  const carries = carried !== null && carried.litres.low > CARRIES_LITRES
  return finding({
    kind: 'pump-without-flow',
    subject: { type: 'coolant' },
    span_s: [from, to],
    value: to - from,
    unit: 's',
    plusMinus: 4,
    limit: { attention: 12, stop: null, unit: 's', source: 'common practice, no source' },
    severity: carries ? 'note' : 'attention',
    question: QUESTION,
    headline: carries
      ? 'The coolant’s flow reads nothing although the coolant carries heat'
      : `The coolant pump was told to run for ${(to - from).toFixed(0)} s and nothing flowed`,
    reason: carries
      ? `By the heat that it carries ${carried.litres.low.toFixed(1)} to ${carried.litres.high.toFixed(1)} l/min flow: the flow’s sensor, or a channel that nothing feeds.`
      : `${usual.charAt(0).toUpperCase()}${usual.slice(1)}. ${usualLitres === null ? 'A flow sensor that reads nothing looks alike.' : `It happened ${idle.length} time${idle.length === 1 ? '' : 's'}.`}`,
    next_step:
      'With the car standing, listen to the pump while it is told to run and measure 12 V at its plug; then its level, and air in the loop.',
    cautions: [OUTSIDE_BOX],
    channels,
  })
}
