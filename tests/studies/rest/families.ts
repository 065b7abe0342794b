import { chargeChain } from './charge-chain.ts'
import { chargeSession } from './charge-session.ts'
import { converter } from './converter.ts'
import type { RestFamily } from './family.ts'
import { heater } from './heater.ts'
import { lampFamily } from './lamps.ts'
import { linkCable } from './link-cable.ts'
import { pump } from './pump.ts'

/** Every family of `npm run study:rest`: one file each. */
export const REST_FAMILIES: readonly RestFamily[] = [
  ...chargeChain,
  ...chargeSession,
  converter,
  heater,
  lampFamily,
  linkCable,
  pump,
]
