import type { Car } from './car.ts'
import { active, type Fault } from './faults.ts'
import type { StartChain } from './start-chain.ts'

/** What the contacts really do: commands, less those stuck open, plus those welded. */
export interface Contacts {
  readonly positive: boolean
  readonly negative: boolean
  /** The precharge path carries: its relay and the pole that closes first, main path open. */
  readonly precharge: boolean
  readonly main: boolean
}

export function contactsOf(car: Car, faults: readonly Fault[], chain: StartChain, timeS: number): Contacts {
  let positive = chain.positive === 1
  let negative = chain.negative === 1
  for (const fault of faults) {
    if (fault.kind === 'positive-stays-open' && active(fault, timeS)) positive = false
    else if (fault.kind === 'negative-stays-open' && active(fault, timeS)) negative = false
    else if (fault.kind === 'contactor-welded') {
      if (fault.pole !== 'negative') positive = true
      if (fault.pole !== 'positive') negative = true
    }
  }
  const main = positive && negative
  const first = car.precharge.layout === 'positive' ? negative : positive
  return { positive, negative, precharge: !main && first && chain.precharge === 1, main }
}
