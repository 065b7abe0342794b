import type { Limit } from '../../../shared/limits.ts'
import type { Facts } from '../../facts/facts.ts'

/** Limits of the 12 V system by the chemistry of its battery: lead where the vehicle file does not say otherwise. */
export function lvLimits({ limits, vehicle }: Facts): { readonly low: Limit; readonly charging: Limit } {
  const lfp = vehicle.lv_chemistry === 'lfp'
  return {
    low: lfp ? limits.lvVoltageLfp : limits.lvVoltage,
    charging: lfp ? limits.dcdcVoltageLfp : limits.dcdcVoltage,
  }
}
