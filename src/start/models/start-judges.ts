import { absence } from '../../facts/facts.ts'
import { battery, brake, isolation, key, pedal, selector, staysAt, supply } from './start-condition-judges.ts'
import { inverter, mainContactor, prechargeVerdict, readyStep, torque } from './start-effect-judges.ts'
import type { Outcome } from './start-outcome.ts'
import { firstWhere, trackOf } from './start-signals.ts'
import type { StepDeclaration } from './start-steps.ts'
import { type Judge, no, unseen, type Verdict, yes } from './start-verdict.ts'

/** One judge a step. What is not here is a step of the vehicle file, judged by its channel. */
const JUDGES: Readonly<Record<string, Judge>> = {
  supply,
  key,
  plug: staysAt('charge_plug', 0, 'out', 'the charge plug signal says in'),
  interlock: staysAt('interlock_closed', 1, 'closed', 'the interlock loop is open'),
  inertia: staysAt('inertia_closed', 1, 'closed', 'the inertia switch is open'),
  battery,
  isolation,
  negative: mainContactor('negative'),
  precharge: prechargeVerdict,
  positive: mainContactor('positive'),
  inverter,
  brake,
  selector,
  pedal,
  ready: readyStep,
  torque,
}

export function judgeStep(step: StepDeclaration, outcome: Outcome): Verdict {
  const judge = JUDGES[step.name]
  if (judge) return judge(outcome)
  const [id] = step.channels
  if (id === undefined) return unseen('the vehicle file names no channel for it')
  const track = trackOf(outcome.facts.drive.channels.get(id))
  if (!track) return unseen(`${absence(outcome.facts, [id])} (${id})`)
  const { startS } = outcome.attempt
  const wanted = step.heldWhen ?? 1
  const held = firstWhere(track, startS, outcome.untilS, (v) => v === wanted)
  return held
    ? yes(held, `${id} is ${wanted}`)
    : no(startS, `${id} never became ${wanted}`, { throughout: true })
}
