import { CHEMISTRY } from '../../shared/limits.ts'
import type { Facts } from '../facts/facts.ts'
import { extremes, median } from '../math/stats.ts'

/** No iron-phosphate cell rests above its charge voltage; cell makers' data sheets, from memory. */
const IRON_TOP_V = 3.65
/** Beyond any lithium cell in use: no cell's voltage. */
const ANY_TOP_V = 4.5

/** What the pack's cells may see, and where each figure comes from. */
export interface CellLimits {
  readonly minV: number
  readonly maxV: number
  readonly minChargeC: number
  readonly voltSource: { readonly min: string; readonly max: string }
  readonly chargeSource: string
}

/** Widest window of the usual chemistries, where neither file nor voltages tell which it is. */
const ANY = { minV: 2.5, maxV: 4.2, minChargeC: 0 }

/**
 * The vehicle file's figures; else the usual ones of its chemistry; else, from the voltages, those of nickel-based
 * cells when cells rest above 3.65 V (no iron-phosphate cell does), and the widest window of all when nothing tells.
 */
export function cellLimits(facts: Facts): CellLimits {
  const pack = facts.vehicle.pack ?? {}
  const named = pack.chemistry?.toLowerCase().replace(/[^a-z]/g, '')
  const known = named ? CHEMISTRY[named] : undefined
  const usual = known ?? (restsAboveIron(facts) ? { ...CHEMISTRY.nmc!, minV: ANY.minV } : ANY)
  const why = known
    ? `usual for ${named}, common practice, no source`
    : 'chemistry not given: widest usual limit, common practice, no source'
  return {
    minV: pack.cell_voltage_min ?? usual.minV,
    maxV: pack.cell_voltage_max ?? usual.maxV,
    minChargeC: pack.cell_temperature_min_charge ?? usual.minChargeC,
    voltSource: {
      min: pack.cell_voltage_min === undefined ? why : 'vehicle file',
      max: pack.cell_voltage_max === undefined ? why : 'vehicle file',
    },
    chargeSource: pack.cell_temperature_min_charge === undefined ? why : 'vehicle file',
  }
}

function restsAboveIron(facts: Facts): boolean {
  const cell = facts.drive.channels.get('cell_voltage.1') ?? facts.drive.channels.get('mean_cell_voltage')
  return cell !== undefined && median(cell.values) > IRON_TOP_V && extremes(cell.values).high < ANY_TOP_V
}
