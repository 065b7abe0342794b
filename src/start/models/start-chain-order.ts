import type { ChannelId } from '../../../shared/channels.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import { START_CHAIN, type StepDeclaration } from './start-steps.ts'

/**
 * The chain of one car: steps left out, added and put in order by the vehicle file. A plain list of names is an
 * order that leaves out what it does not name.
 */
export function chainOf(vehicle: Vehicle): StepDeclaration[] {
  const wish = vehicle.start_steps
  let chain = [...START_CHAIN]
  if (vehicle.precharge?.layout === 'none') chain = chain.filter((step) => step.name !== 'precharge')
  if (vehicle.precharge?.layout === 'negative') chain = swapMains(chain)
  if (wish === undefined) return chain
  if (Array.isArray(wish))
    return wish.map((name) => chain.find((step) => step.name === name) ?? unseenStep(name))
  chain = chain.filter((step) => !wish.leave_out?.includes(step.name))
  for (const { name, channel, held_when, after } of wish.add ?? []) {
    const step: StepDeclaration = {
      ...unseenStep(name),
      // a person may name a column that the catalogue does not know
      channels: [channel as ChannelId],
      judged: `${channel} is ${held_when ?? 1}`,
      heldWhen: held_when ?? 1,
    }
    const at = after === undefined ? -1 : chain.findIndex((each) => each.name === after)
    chain.splice(at < 0 ? chain.length : at + 1, 0, step)
  }
  const order = wish.order
  if (order)
    chain = [
      ...order.flatMap((name) => chain.filter((step) => step.name === name)),
      ...chain.filter((step) => !order.includes(step.name)),
    ]
  return chain
}

/** A step that only the vehicle file knows. */
function unseenStep(name: string): StepDeclaration {
  return {
    name,
    label: name,
    channels: [],
    judged: 'named by the vehicle file',
    role: 'condition',
    needs: [],
    means: `the step “${name}” of the vehicle file`,
    checks: [],
  }
}

/** Precharge in the negative leg: the positive contactor closes first, the negative last. */
function swapMains(chain: readonly StepDeclaration[]): StepDeclaration[] {
  const other: Record<string, string> = { positive: 'negative', negative: 'positive' }
  const byName = new Map(chain.map((step) => [step.name, step]))
  return chain.map((step) => {
    const turned = byName.get(other[step.name] ?? step.name)!
    return { ...turned, needs: step.needs.map((need) => other[need] ?? need) }
  })
}

export function stepNamed(chain: readonly StepDeclaration[], name: string): StepDeclaration | undefined {
  return chain.find((step) => step.name === name)
}
