import { brakeTrace } from '../../car/brake-trace.ts'
import type { Facts } from '../../facts/facts.ts'
import { jitter } from '../../math/jitter.ts'
import { indexAt } from '../../samples/on-one-clock.ts'
import { mapNm, regenMap } from './regen-map.ts'
import { arrivedPress } from './regen-rows.ts'

export interface RegenStep {
  /** Largest jump that the driver's press does not explain, N·m. */
  readonly jumpNm: number
  readonly plusMinusNm: number
  readonly atS: number
  readonly kmh: number
  readonly press: number
  /** Jumps over half of the largest, in this drive. */
  readonly times: number
  readonly windowS: number
}

/** A jump is what happens within this time, s: what a driver feels as one jerk. Common practice, no source. */
const JUMP_S = 0.06
/** Torque over this is drive, not regeneration, N·m. */
const REGEN_NM = 2
/** A fade over less speed than this is a cut-out, not a fade, km/h. Common practice, no source. */
const NARROW_FADE_KMH = 2
/** Slower logs cannot tell a jump from a ramp, s. */
export const STEP_SLOWEST_S = 0.11

/**
 * Model: over any window of 60 ms (one sample where the log is slower) the torque may change by the map's slope times
 * the change of the press around it, and by its noise; what it changes beyond that is a jump. The press is
 * taken as it arrives after the fitted dead time and lag, with a sample to either side; what the fitted fade
 * explains by the car's own speed counts as explained too, unless it is narrower than 2 km/h (a cut-out).
 * Reads the torque request where logged (an inverter's own lag rounds jumps off), with the accelerator at rest.
 * Gives null where the log is slower than 10 Hz or no map was read.
 */
export function regenStep(facts: Facts): RegenStep | null {
  const trace = facts.once(brakeTrace)
  const fit = facts.once(regenMap)
  if (!trace || !fit || trace.periodS > STEP_SLOWEST_S) return null
  const { timeS, press, kmh } = trace
  const nm = trace.requestNm ?? trace.torqueNm
  const slope = fit.start && fit.full ? fit.shape.maxNm / Math.max(1e-6, fit.shape.full - fit.shape.start) : 0
  const noise = jitter(nm)
  const faint = fit.shape.fade[1] - fit.shape.fade[0] < NARROW_FADE_KMH
  const span = Math.max(1, Math.round(JUMP_S / trace.periodS))
  const arrived = arrivedPress(trace, fit.deadS, fit.lagS)
  const jumps: { jump: number; i: number }[] = []
  for (const [from, to] of trace.applications) {
    let i = indexAt(timeS, from - 1e-9) + 1
    for (; i < timeS.length && timeS[i]! <= to + 0.3; i++) {
      const j = i - span
      if (
        j < 1 ||
        !(nm[i]! < REGEN_NM && nm[j]! < REGEN_NM) ||
        trace.released[j] !== 1 ||
        trace.released[i] !== 1
      )
        continue
      if (timeS[i]! - timeS[j]! > 2 * JUMP_S + trace.periodS) continue
      const change = nm[i]! - nm[j]!
      let low = arrived[i]!
      let high = arrived[i]!
      for (let k = j - 1; k <= Math.min(i + 1, timeS.length - 1); k++) {
        if (arrived[k]! < low) low = arrived[k]!
        if (arrived[k]! > high) high = arrived[k]!
      }
      const faded = faint
        ? 0
        : Math.abs(mapNm(fit.shape, press[i]!, kmh[i]!) - mapNm(fit.shape, press[i]!, kmh[j - 1]!))
      const jump = Math.abs(change) - slope * (high - low) - faded - 3 * noise
      if (jump > 0 && Number.isFinite(jump)) jumps.push({ jump, i })
    }
  }
  let worst: { jump: number; i: number } | null = null
  for (const each of jumps) if (!worst || each.jump > worst.jump) worst = each
  if (!worst)
    return {
      jumpNm: 0,
      plusMinusNm: 3 * noise,
      atS: timeS[0]!,
      kmh: 0,
      press: 0,
      times: 0,
      windowS: span * trace.periodS,
    }
  const half = worst.jump / 2
  let times = 0
  let last = Number.NEGATIVE_INFINITY
  for (const { jump, i } of jumps) {
    if (jump < half || timeS[i]! - last < 1) continue
    times++
    last = timeS[i]!
  }
  return {
    jumpNm: worst.jump,
    plusMinusNm: Math.max(3 * noise, 0.05 * worst.jump),
    atS: timeS[worst.i]!,
    kmh: kmh[worst.i]!,
    press: press[worst.i]!,
    times,
    windowS: span * trace.periodS,
  }
}
