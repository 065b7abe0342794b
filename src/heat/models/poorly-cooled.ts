import type { Facts } from '../../facts/facts.ts'
import type { ModuleHeat } from './thermal-fit.ts'

/** Beyond this many of its own standard errors a ratio counts: held over all modules of a pack together. */
export const SIGMAS = 3.3

/** Is a module cooled worse than its peers: past the limit, clear of its errors, its interval leaving out 1? */
export function isPoorlyCooled(facts: Facts, module: ModuleHeat): boolean {
  const bar = facts.limits.coolingRatio.attention ?? Number.POSITIVE_INFINITY
  return module.ratio !== null && module.ratio > bar && module.sigmas > SIGMAS && module.low > 1
}
