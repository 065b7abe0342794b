import type { Channel } from '../../../shared/drive.ts'
import { sampleNoise } from '../../math/sample-noise.ts'
import { median, quantile } from '../../math/stats.ts'
import { type Bins, PROVED, weighCurrent } from './power-balance.ts'

/** The witness says charge with a strength of its own noise. */
const TELLS = 1
/** Fewer moments at rest give no idle current; no source. */
const FEWEST_IDLE = 5

/** Is this a current without a sign, or one that only ever flows one way? */
export function neverNegative(values: Float64Array): boolean {
  const high = quantile(values, 0.995)
  return quantile(values, 0.003) > -Math.max(0.01 * high, 0.5)
}

/**
 * Gives a magnitude its sign, or null where the log shows no moment of charging while it drives (then the current as
 * logged may well be all there is).
 * By power: sign of P · 0.85 + standing load (0.85: what braking power loses on its way back, common practice, no
 * source). By voltage, piece by piece: a current changes sign only by way of zero, so between two deep dips of its
 * size it has one sign; it discharges where the voltage falls as the size rises.
 * Where it jumps from one side to the other between two bins, the voltage moves by R times the sum of both sizes, not by
 * R times their difference: that is a boundary as well.
 */
export function resolveMagnitude(
  current: Channel,
  values: Float64Array,
  bins: Bins,
): { values: Float64Array; from: string } | null {
  const amperes = bins.means({ timeS: current.timeS, values })
  const high = quantile(amperes, 0.99)
  const witness = bins.hasMechanical ? powerWitness(bins, amperes, high) : voltageWitness(bins, amperes, high)
  let telling = 0
  for (let i = 0; i < bins.count; i++)
    if (witness.strength[i]! < -TELLS && amperes[i]! > Math.max(0.08 * high, 3 * witness.idleA)) telling++
  if (telling * bins.stepS < 1) return null
  const at = (timeS: number): number => {
    const place = bins.placeOf(timeS) - 0.5
    const below = Math.max(0, Math.min(bins.count - 1, Math.floor(place)))
    const above = Math.min(bins.count - 1, below + 1)
    const low = witness.strength[below]!
    const next = witness.strength[above]!
    if (Number.isNaN(low) || Number.isNaN(next)) return Number.isNaN(low) ? next : low
    return low + (next - low) * (place - below)
  }
  const signed = values.map((value, i) => (at(current.timeS[i]!) < 0 ? -value : value))
  const better = weighCurrent(bins, bins.means({ timeS: current.timeS, values: signed })).score
  if (better < PROVED || better < weighCurrent(bins, amperes).score + 2) return null
  return { values: signed, from: witness.from }
}

interface MagnitudeWitness {
  /** Per bin, negative = charging; −1 and beyond is beyond doubt. */
  readonly strength: Float64Array
  readonly idleA: number
  readonly from: string
}

function powerWitness(bins: Bins, amperes: Float64Array, high: number): MagnitudeWitness {
  const peak = quantile(bins.mechanicalW, 0.98)
  const idle = amperes.filter((_, i) => Math.abs(bins.mechanicalW[i]!) < 0.005 * peak)
  const idleA = idle.length > FEWEST_IDLE ? median(idle) : 0
  const volts = median(bins.volts)
  const standingW = idleA * (Number.isFinite(volts) ? volts : peak / high)
  const sure = Math.max(1000, 0.05 * peak)
  return {
    strength: bins.mechanicalW.map((watts) => ((watts < 0 ? 0.85 * watts : watts) + standingW) / sure),
    idleA,
    from: 'torque times motor speed',
  }
}

/** A dip this deep against the lower of the peaks beside it may be a passage through zero. */
const DIP = 0.5
/** Standard errors from which a piece's own voltage decides; weaker pieces count as discharge, the usual load. */
const DECIDED = 2

function voltageWitness(bins: Bins, amperes: Float64Array, high: number): MagnitudeWitness {
  const noise = Math.max(1e-6, sampleNoise(bins.volts))
  const strength = new Float64Array(bins.count).fill(Number.NaN)
  const dips = [
    ...new Set([...deepDips(amperes, 0.03 * high), ...jumps(bins.volts, amperes, high, noise)]),
  ].sort((a, b) => a - b)
  for (let k = 0; k + 1 < dips.length; k++) {
    const [from, to] = [dips[k]!, dips[k + 1]!]
    let along = 0
    let squares = 0
    for (const reach of [1, 2, 4])
      for (let i = from + reach; i < to; i++) {
        const dI = amperes[i]! - amperes[i - reach]!
        const dV = bins.volts[i]! - bins.volts[i - reach]!
        if (!Number.isFinite(dI + dV)) continue
        along -= dI * dV
        squares += dI * dI
      }
    // three reaches use every sample about three times
    const score = squares > 0 ? along / (noise * Math.sqrt(2 * 3 * squares)) : 0
    const sure = Math.sign(score) * Math.min(2, Math.abs(score) / DECIDED)
    strength.fill(Math.abs(score) < DECIDED ? 0.5 : sure, from, to + 1)
  }
  return { strength, idleA: 0.02 * high, from: 'the pack voltage, which falls under load' }
}

/**
 * Bins at which the size may have passed through zero: troughs under half of the peak before and of the climb after
 * them (or under `floor`). First and last bin included.
 */
function deepDips(amperes: Float64Array, floor: number): number[] {
  const dips = [0]
  let falling = true
  let extreme = Number.POSITIVE_INFINITY
  let at = 0
  for (let i = 0; i < amperes.length; i++) {
    const value = amperes[i]!
    if (Number.isNaN(value)) continue
    if (falling ? value < extreme : value > extreme) {
      extreme = value
      at = i
    } else if (falling && value > Math.max(floor, extreme / DIP)) {
      if (at > dips[dips.length - 1]!) dips.push(at)
      falling = false
      extreme = value
    } else if (!falling && value < DIP * extreme) {
      falling = true
      extreme = value
      at = i
    }
  }
  dips.push(amperes.length - 1)
  return dips
}

/**
 * Bins in which the current jumped from one side of zero to the other: across them (a bin may hold both sides) the
 * voltage moved by more than R times the larger size. R is the lower quartile of |ΔV / ΔI|, since jumps raise it.
 */
function jumps(volts: Float64Array, amperes: Float64Array, high: number, noise: number): number[] {
  const change = (values: Float64Array, i: number): number => Math.abs(values[i + 1]! - values[i - 1]!)
  const ohms: number[] = []
  for (let i = 1; i + 1 < amperes.length; i++) {
    const ratio = change(volts, i) / change(amperes, i)
    if (change(amperes, i) > 0.1 * high && Number.isFinite(ratio)) ohms.push(ratio)
  }
  const ohm = quantile(ohms, 0.25)
  const found: number[] = []
  for (let i = 1; i + 1 < amperes.length; i++) {
    const larger = Math.max(amperes[i + 1]!, amperes[i - 1]!)
    if (larger > 0.1 * high && change(volts, i) > 1.3 * ohm * larger + 4 * noise) found.push(i)
  }
  return found
}
