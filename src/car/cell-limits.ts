import { CHEMISTRY } from '../../shared/limits.ts'
import type { Facts } from '../facts/facts.ts'
import { extremes, median, quantile } from '../math/stats.ts'

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
  const titanate = !known && staysWhereTitanateDoes(facts)
  const usual =
    known ?? (titanate ? CHEMISTRY.lto! : restsAboveIron(facts) ? { ...CHEMISTRY.nmc!, minV: ANY.minV } : ANY)
  const why = known
    ? `usual for ${named}, common practice, no source`
    : titanate
      ? 'chemistry not given: the voltages are those of titanate (LTO) cells; usual, common practice, no source'
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

/** Titanate cells live between these; any other lithium cell is empty there and falls fast. Data sheets, from memory. */
const TITANATE_V = [1.7, 2.85] as const
/** Empty cells of another kind lose far more than this under so much use. Common practice, no source. */
const FALLS_V = 0.35
const LEAST_AH = 0.5

/** Read all along where only titanate cells work, while charge flowed: its voltage stayed, as an empty cell's does not. */
function staysWhereTitanateDoes(facts: Facts): boolean {
  const cells = [...facts.drive.channels.values()].filter(({ id }) => /^cell_voltage\./.test(id))
  const current = facts.drive.channels.get('pack_current')
  if (cells.length === 0 || !current) return false
  let used = 0
  for (let i = 1; i < current.timeS.length; i++)
    used += (Math.abs(current.values[i]!) || 0) * Math.min(1, current.timeS[i]! - current.timeS[i - 1]!)
  if (used / 3600 < LEAST_AH) return false
  return cells.every(({ values }) => {
    const [low, high] = [quantile(values, 0.01), quantile(values, 0.99)]
    return low > TITANATE_V[0] && high < TITANATE_V[1] && high - low < FALLS_V + 0.2
  })
}

function restsAboveIron(facts: Facts): boolean {
  const cell = facts.drive.channels.get('cell_voltage.1') ?? facts.drive.channels.get('mean_cell_voltage')
  return cell !== undefined && median(cell.values) > IRON_TOP_V && extremes(cell.values).high < ANY_TOP_V
}
