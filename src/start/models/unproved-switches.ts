import type { ChannelId } from '../../../shared/channels.ts'
import type { Facts } from '../../facts/facts.ts'
import { stepNamed } from './start-chain-order.ts'
import { samplesIn } from './start-signals.ts'
import type { StepDeclaration } from './start-steps.ts'
import { type JudgedAttempt, startChain } from './start-verdicts.ts'

/** A switch that would be in the way if its name were right, though nothing proves what its values mean. */
export interface Suspect {
  readonly step: StepDeclaration
  readonly channel: string
  /** "the charge plug: it reads 1 throughout; whether 1 means in is not proved" */
  readonly why: string
}

/** Value of each switch that would stop a start, and what it would mean. */
const IN_THE_WAY: readonly (readonly [step: string, ChannelId, 0 | 1, label: string, means: string])[] = [
  ['plug', 'charge_plug', 1, 'the charge plug', 'in'],
  ['interlock', 'interlock_closed', 0, 'the interlock loop', 'open'],
  ['inertia', 'inertia_closed', 0, 'the inertia switch', 'open'],
]

/** Steps that conditions hold up: where one of these is missing, a switch in the way may be the reason. */
const HELD_UP = new Set(['negative', 'positive', 'precharge', 'ready', 'battery'])

/**
 * Switches without proved values that read in the way through the whole attempt; none where the step that failed
 * explains itself.
 */
export function unprovedSuspects(facts: Facts, judged: JudgedAttempt, failed: string): Suspect[] {
  const verdict = judged.steps.find(({ step }) => step.name === failed)?.verdict
  if (!HELD_UP.has(failed) || verdict?.selfExplained || judged.attempt.run) return []
  const { startS, endS } = judged.attempt
  return IN_THE_WAY.flatMap(([name, id, bad, label, meaning]) => {
    const channel = facts.drive.channels.get(id)
    const step = stepNamed(facts.once(startChain), name)
    if (!channel || channel.polarity !== null || !step) return []
    const { values } = samplesIn(channel, startS, endS)
    if (values.length === 0 || values.some((value) => value !== bad)) return []
    return [
      {
        step,
        channel: id,
        why: `${label}: it reads ${bad} throughout; whether ${bad} means ${meaning} is not proved`,
      },
    ]
  })
}
