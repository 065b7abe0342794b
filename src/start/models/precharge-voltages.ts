import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { contactorTrack, medianOf, samplesIn, stretches } from './start-signals.ts'

/** Under load the link's cables drop voltage: no comparing; no source. */
const LOADED_A = 8
/** Two sensors of one voltage differ by no more in scale; no source. */
const RATIO_LOW = 0.9
/** See above. */
const RATIO_HIGH = 1.1

/** Voltages on both sides of the contactors, as the start chain reads them. */
export interface Voltages {
  /** Battery side, V: median over [fromS, toS], widened until a sample is met; NaN where none is near. */
  packV(fromS: number, toS: number): number
  /** Channels that `packV` reads. */
  readonly packFrom: readonly string[]
  /** Link voltage ÷ pack voltage with the contactors closed and little current; 1 where it cannot be learned. */
  readonly linkRatio: number
  /** 95 % half width of `linkRatio`: what two voltage sensors may differ by. */
  readonly linkRatioPlusMinus: number
  /** Highest battery-side voltage of the log, V; NaN where none is logged. */
  readonly highestV: number
}

/** Two uncompared voltage sensors may differ by this. Common practice, no source. */
const UNCOMPARED = 0.015
/** How far a median may look for a sample, s. */
const REACH_S = [0, 1, 5, 30]

/**
 * The pack's voltage before the contactors: `pack_voltage` where it is measured there (it stays up with contactors
 * open), else the sum of all cells. The link's sensor is compared with it at rest with the contactors closed, so
 * that a share of pack voltage is not biased by two sensors' gains.
 */
export function voltages(facts: Facts): Voltages {
  const pack = facts.drive.channels.get('pack_voltage')
  const link = facts.drive.channels.get('link_voltage')
  const cells = [...facts.drive.channels.values()].filter((each) => each.id.startsWith('cell_voltage.'))
  const wanted = facts.vehicle.pack?.cells
  const allCells = cells.length > 1 && (wanted === undefined || cells.length === wanted)
  const cellSum = (fromS: number, toS: number): number =>
    cells.reduce((sum, cell) => sum + medianOf(cell, fromS, toS), 0)
  const positive = contactorTrack(facts, 'positive')
  const open = stretches(positive, (v) => v === 0, facts.drive.durationS)
  const closed = stretches(positive, (v) => v === 1, facts.drive.durationS)
  const medianIn = (fromS: number, toS: number): number => medianOf(pack, fromS, toS)
  const whileOpen = open.map((each) => medianIn(each.startS, each.endS - 1)).filter(Number.isFinite)
  const whileClosed = closed.map((each) => medianIn(each.startS + 1, each.endS)).filter(Number.isFinite)
  const sinks =
    whileOpen.length > 0 && whileClosed.length > 0 && Math.min(...whileOpen) < 0.5 * Math.max(...whileClosed)
  const underCells =
    allCells && whileOpen.length > 0 && Math.min(...whileOpen) < 0.6 * cellSum(0, facts.drive.durationS)
  const afterContactors = facts.vehicle.pack?.pack_voltage_at === 'after-contactors' || sinks || underCells
  const usePack = pack !== undefined && !(afterContactors && allCells)
  const read = usePack ? medianIn : allCells ? cellSum : () => Number.NaN
  const usable = usePack && afterContactors ? closed : null
  const packV = (fromS: number, toS: number): number => {
    if (usable) {
      const near = usable.map((each) => medianIn(each.startS + 1, each.endS)).find(Number.isFinite)
      return near ?? Number.NaN
    }
    for (const reach of REACH_S) {
      const volts = read(fromS - reach, toS + reach)
      if (Number.isFinite(volts)) return volts
    }
    return Number.NaN
  }
  const current = facts.drive.channels.get('pack_current')
  const ratios: number[] = []
  for (const each of closed) {
    const samples = samplesIn(link, each.startS + 0.5, each.endS - 0.2)
    const stride = Math.max(1, Math.floor(samples.timeS.length / 400))
    for (let i = 0; i < samples.timeS.length; i += stride) {
      const at = samples.timeS[i]!
      const amps = samplesIn(current, at - 0.6, at + 0.6).values
      if (current && (amps.length === 0 || amps.some((a) => Math.abs(a) > LOADED_A))) continue
      const volts = read(at - 0.6, at + 0.6)
      if (volts > LIVE_V) ratios.push(samples.values[i]! / volts)
    }
  }
  const learned = ratios.length >= FEWEST_FOR_MEDIAN ? median(ratios) : Number.NaN
  const believable = learned > RATIO_LOW && learned < RATIO_HIGH
  const high = usePack ? pack.values : null
  let highestV = Number.NEGATIVE_INFINITY
  if (high) for (const v of high) if (v > highestV) highestV = v
  if (!high && allCells) highestV = packV(0, facts.drive.durationS)
  return {
    packV,
    packFrom: usePack ? ['pack_voltage'] : allCells ? ['cell_voltage'] : [],
    linkRatio: believable ? learned : 1,
    linkRatioPlusMinus: believable
      ? Math.max(0.002, (2 * robustSpread(ratios)) / Math.sqrt(ratios.length))
      : UNCOMPARED,
    highestV: Number.isFinite(highestV) ? highestV : Number.NaN,
  }
}
