import type { BrakeTrace } from '../../car/brake-trace.ts'
import { nonlinearFit } from '../../math/nonlinear-fit.ts'
import { coasting } from './regen-rows.ts'
import { ramp } from './slowing-map.ts'

/** Speeds between which the lift-off part fades, km/h. */
export interface LiftFade {
  readonly low: number
  readonly high: number
  readonly plusMinus: number
}

/** Coasting down through the fade must be seen at so many samples with part of the torque, in so many coasts. */
const LEAST_SAMPLES = 8
const LEAST_COASTS = 2
/** Coasts further apart than this are two, s. */
const APART_S = 2
/** A speed read 50 ms late while the car slows by 2 m/s², km/h. Common practice, no source. */
export const SPEED_LATE_KMH = 0.35

/**
 * Where does the lift-off part fade? lift · clip((v − low) / (high − low), 0, 1) fitted robustly to moments with both
 * pedals free; each coast is one witness. Null where the drive hardly coasts down to where it fades.
 */
export function liftFade(trace: BrakeTrace, liftNm: number): LiftFade | null {
  const { kmh, nm, timeS } = coasting(trace)
  let part = 0
  const coast = new Int32Array(kmh.length)
  const fading = new Set<number>()
  for (let i = 0, run = 0; i < kmh.length; i++) {
    if (i > 0 && timeS[i]! - timeS[i - 1]! > APART_S) run++
    coast[i] = run
    if (nm[i]! > 0.1 * liftNm && nm[i]! < 0.85 * liftNm && kmh[i]! < 40) {
      part++
      fading.add(run)
    }
  }
  const gone = kmh.filter((v, i) => v < 20 && nm[i]! < 0.1 * liftNm).length
  if (part < LEAST_SAMPLES || gone < 3 || fading.size < LEAST_COASTS) return null
  const fit = nonlinearFit(
    (p, out) => {
      for (let i = 0; i < out.length; i++) out[i] = liftNm * ramp(kmh[i]!, p[0]!, p[0]! + p[1]!)
    },
    nm,
    [4, 8],
    [0.5, 0.5],
    [
      [0, 30],
      [0.2, 30],
    ],
    coast,
    { rounds: 20 },
  )
  const [low, width] = fit.parameters as unknown as [number, number]
  const error = 1.96 * Math.hypot(fit.standardErrors[0]! || 0, fit.standardErrors[1]! || 0)
  return { low, high: low + width, plusMinus: Math.hypot(error, SPEED_LATE_KMH) }
}
