import { CHEMISTRY } from '../../../shared/limits.ts'
import type { Facts } from '../../facts/facts.ts'

/** The highest cell temperature allowed: the vehicle file's, else the chemistry's usual, else 60 °C. */
export function temperatureLimit(facts: Facts): { celsius: number; source: string } {
  const pack = facts.vehicle.pack
  if (pack?.cell_temperature_max !== undefined)
    return { celsius: pack.cell_temperature_max, source: 'vehicle file, cell_temperature_max' }
  const usual = CHEMISTRY[(pack?.chemistry ?? '').toLowerCase()]
  if (usual)
    return { celsius: usual.maxC, source: `usual for ${pack!.chemistry}; common practice, no source` }
  return { celsius: 60, source: 'FSAE rules EV.7.5.2 (below the lower of data sheet and 60 °C)' }
}
