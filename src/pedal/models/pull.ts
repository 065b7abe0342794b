import { gearing } from '../../car/gearing.ts'
import type { Facts } from '../../facts/facts.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { slidingSlope } from '../../math/sliding-line.ts'
import { standardDeviation } from '../../math/stats.ts'
import { releasedTorque } from './released-torque.ts'

/** Acceleration per torque, m/s² for each N·m, and its 95 % error. */
export interface Pull {
  readonly perNm: number
  readonly plusMinus: number
}

const MOST = 4000
const FEWEST = 300
const RATE_HALF_S = 0.5
/** Rolling, and slow enough that one ratio of drag to speed holds, km/h. */
const ROLLS: readonly [number, number] = [3, 70]
/** A wider error than this share teaches nothing. Common practice, no source. */
const TELLS = 0.15
/** Neighbours share hill and gear: so many samples count as one. Common practice, no source. */
const NEIGHBOURS = 100

/**
 * What a newton metre does to the car, by its own pulls: dv/dt = perNm · torque − roll − drag · v², the accelerator
 * pressed and the brake free. It stands in for mass, wheel radius and gear ratio where the vehicle file lacks them.
 * Null with too little driving, too wide an error or a gearbox. Biased by: hills that go with the torque.
 */
export function pull(facts: Facts): Pull | null {
  const seen = facts.once(releasedTorque)
  if ('why' in seen || facts.once(gearing)) return null
  const { data, released, brake } = seen
  const { timeS, kmh, driveNm } = data
  const rate = slidingSlope(timeS, kmh, RATE_HALF_S)
  const usable = (i: number): boolean =>
    released[i] !== 1 &&
    brake?.[i] !== 1 &&
    driveNm[i]! > 0 &&
    kmh[i]! > ROLLS[0] &&
    kmh[i]! < ROLLS[1] &&
    Number.isFinite(rate[i]!)
  const all = Array.from(timeS.keys()).filter(usable)
  const stride = Math.max(1, Math.ceil(all.length / MOST))
  const kept = all.filter((_, k) => k % stride === 0)
  if (kept.length < FEWEST) return null
  const column = (of: (i: number) => number): Float64Array => Float64Array.from(kept, of)
  const fit = robustLeastSquares(
    [column(() => 1), column((i) => driveNm[i]!), column((i) => kmh[i]! ** 2)],
    column((i) => rate[i]! / 3.6),
  )
  const perNm = fit?.coefficients[1] ?? Number.NaN
  const plusMinus = fit
    ? (1.96 * fit.spread * Math.sqrt(NEIGHBOURS / kept.length)) /
      standardDeviation(column((i) => driveNm[i]!))
    : Number.NaN
  return perNm > 0 && plusMinus < TELLS * perNm ? { perNm, plusMinus } : null
}
