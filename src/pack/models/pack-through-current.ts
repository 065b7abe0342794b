import type { PackCurrent } from '../../car/pack-current.ts'
import { HeardTime } from '../../samples/heard-time.ts'

/** Fewer samples are no current over time. */
const FEWEST_SAMPLES = 3

/**
 * The current that passed through the pack, on an even grid, with what cells make of it: filtered by the voltage
 * measurement, as the state of a slow part (an RC pair), as charge.
 *
 *     node j at startS + j · stepS;  amperes[j] = mean over the step about the node
 *
 * Where the current was clipped or missing it is drawn straight across (`trusted` 0 there): the slow states need a
 * value, the fits leave those moments out.
 */
export interface ThroughCurrent {
  readonly startS: number
  readonly stepS: number
  readonly amperes: Float64Array
  /** A·h that have left the pack since the start. */
  readonly ampHours: Float64Array
  readonly trusted: Uint8Array
  /** Typical time between the current's own samples, s. */
  readonly periodS: number
  /** The grid lies in the time in which the current was logged: a pause of hours takes no nodes. */
  readonly heard: HeardTime
  /** Nodes before which time is left out, and how much, s. */
  readonly leaps: ReadonlyMap<number, number>
}

const STEP_S = [0.02, 0.25] as const

export function throughCurrent(current: PackCurrent, periodS: number, endS: number): ThroughCurrent | null {
  const { timeS, amperes } = current
  const known: number[] = []
  for (let i = 0; i < timeS.length; i++) if (Number.isFinite(amperes[i]!)) known.push(i)
  if (known.length < FEWEST_SAMPLES) return null
  const startS = timeS[known[0]!]!
  const stepS = Math.min(STEP_S[1], Math.max(STEP_S[0], Math.ceil(periodS / 0.01 - 1e-6) * 0.01))
  const lastS = Math.min(endS, timeS[known[known.length - 1]!]!)
  const heard = new HeardTime([timeS], lastS, startS)
  const n = Math.max(2, Math.floor((heard.heard(lastS) - startS) / stepS) + 1)
  const leaps = new Map<number, number>()
  const farS = Math.max(1, 5 * periodS)
  const amps = new Float64Array(n)
  const charge = new Float64Array(n)
  const trusted = new Uint8Array(n).fill(1)
  // coulombs at (j + ½) steps, by the trapezium rule between known samples
  let at = 0
  let coulombs = 0
  let last = 0
  let lastEdgeS = startS
  for (let j = 0; j < n; j++) {
    const edgeS = heard.drive(startS + (j + 0.5) * stepS)
    const leapS = edgeS - lastEdgeS - stepS
    if (j > 0 && leapS > stepS) leaps.set(j, leapS)
    lastEdgeS = edgeS
    while (at + 1 < known.length && timeS[known[at + 1]!]! <= edgeS) {
      const from = known[at]!
      const to = known[at + 1]!
      coulombs += ((amperes[from]! + amperes[to]!) / 2) * (timeS[to]! - timeS[from]!)
      at++
    }
    const from = known[at]!
    const to = known[Math.min(at + 1, known.length - 1)]!
    const gapS = timeS[to]! - timeS[from]!
    const partS = Math.max(0, edgeS - timeS[from]!)
    const slope = gapS > 0 ? (amperes[to]! - amperes[from]!) / gapS : 0
    const total = coulombs + partS * (amperes[from]! + (slope * partS) / 2)
    amps[j] = j === 0 ? amperes[known[0]!]! : (total - last) / (stepS + (leaps.get(j) ?? 0))
    charge[j] = (total - (amps[j]! * stepS) / 2) / 3600
    last = total
    if (gapS > farS || to - from > 1) trusted[j] = 0
  }
  return { startS, stepS, amperes: amps, ampHours: charge, trusted, periodS, heard, leaps }
}

/** The current behind a first-order lag of `tauS`, both as a measuring filter and as the state of an RC pair. */
export function behindLag(
  through: ThroughCurrent,
  tauS: number,
  series: Float64Array = through.amperes,
): Float64Array {
  const { stepS } = through
  if (!(tauS > 0)) return series
  const share = 1 - Math.exp(-stepS / tauS)
  const out = new Float64Array(series.length)
  let state = 0
  for (let j = 0; j < series.length; j++) {
    const leapS = through.leaps.get(j)
    state += (leapS ? 1 - Math.exp(-(stepS + leapS) / tauS) : share) * (series[j]! - state)
    out[j] = state
  }
  return out
}

/** A series on the grid at any moment, by a straight line; the ends are held. */
export function gridAt(through: ThroughCurrent, series: Float64Array, atS: number): number {
  const place = (through.heard.heard(atS) - through.startS) / through.stepS
  if (place <= 0) return series[0]!
  const j = Math.floor(place)
  if (j >= series.length - 1) return series[series.length - 1]!
  return series[j]! + (place - j) * (series[j + 1]! - series[j]!)
}

/** Was the current known and not clipped at that moment? */
export function trustedAt(through: ThroughCurrent, atS: number): boolean {
  const j = Math.round((through.heard.heard(atS) - through.startS) / through.stepS)
  return j >= 0 && j < through.trusted.length && through.trusted[j] === 1
}
