import type { BrakeTrace } from '../../car/brake-trace.ts'
import { nonlinearFit } from '../../math/nonlinear-fit.ts'
import { coasting } from './regen-rows.ts'
import { ramp } from './slowing-map.ts'

/** Between these shares of the lift-off torque it fades; no source. */
const WHOLE_SHARE = 0.85
/** Under this share of it the lift-off torque has gone; no source. */
const GONE_SHARE = 0.1
/** No map fades lift-off torque at more; common practice, no source. */
const FADES_UNDER_KMH = 40
/** Where it has gone for slowness; common practice, no source. */
const GONE_UNDER_KMH = 20
/** Fewer readings do not show where it has gone; no source. */
const FEWEST_GONE = 3

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
    if (nm[i]! > GONE_SHARE * liftNm && nm[i]! < WHOLE_SHARE * liftNm && kmh[i]! < FADES_UNDER_KMH) {
      part++
      fading.add(run)
    }
  }
  const gone = kmh.filter((v, i) => v < GONE_UNDER_KMH && nm[i]! < GONE_SHARE * liftNm).length
  if (part < LEAST_SAMPLES || gone < FEWEST_GONE || fading.size < LEAST_COASTS) return null
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
