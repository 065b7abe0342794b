import { chargeDrive } from '../../simulator/charge/charge-log.ts'
import { FAILING, runCharge, WAITING } from '../../simulator/charge/charge-world.ts'
import { randomCharge } from '../../simulator/charge/random-charge.ts'
import type { RestFamily } from './family.ts'

const HEALTHY = ['begins', 'ended by the driver', ...WAITING] as const

/**
 * A charge that does not begin, a family a step of the chain. Healthy: a charge that begins, one that the driver ends, a
 * car that waits for its timer, a full car, a station that is off.
 */
export const chargeChain: readonly RestFamily[] = FAILING.map((step) => ({
  name: `charge-chain-${step}`,
  asks: ['charge start', 'charge slow', 'charge interrupted', 'isolation while plugged in', 'isolation'],
  draw(model, seed, ill) {
    const { car, plan, style, random } = randomCharge(model, 1000 * FAILING.indexOf(step) + seed, [180, 320])
    const healthy = HEALTHY[seed % HEALTHY.length]!
    const waits = WAITING.find((each) => each === healthy)
    const { world } = runCharge(
      car,
      {
        ...plan,
        ...(ill ? { fails: step } : {}),
        ...(!ill && waits ? { waits } : {}),
        ...(!ill && healthy === 'ended by the driver' ? { endedS: plan.durationS - 80 } : {}),
      },
      random.fork('run'),
    )
    return {
      drive: chargeDrive(world, car.vehicle, style, random.fork('log')),
      vehicle: car.vehicle,
      planted: ill ? { kind: 'charge-not-started', name: step, value: null } : null,
      // what its number means stands in the vehicle file alone
      needsFile: step === 'battery',
      words: ill ? step : healthy,
    }
  },
}))
