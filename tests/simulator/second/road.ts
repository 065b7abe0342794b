import type { Random } from '../random.ts'

/**
 * An invented road in four phases as long against each other as the WLTC's (589, 433, 455, 323 of 1800 s: UN GTR 15, read
 * in checks.md E1), with tops near its 56, 76, 97 and 131 km/h; the speeds themselves are made here, by chance: pull
 * away in two strokes, wander about a speed, slow down in strokes, stand. Hills: slopes that change every few hundred
 * metres. With cruise control some legs of the faster phases are driven at one speed.
 */
export interface RoadOptions {
  readonly durationS: number
  /** Phases to drive, 0 … 3; default all four. */
  readonly phases?: readonly number[]
  /** Steepest slope, percent. */
  readonly slopePercent?: number
  /** Scales accelerations. */
  readonly haste?: number
  /** Top speed of the car, km/h. */
  readonly topKmh?: number
  readonly cruise?: boolean
}

export interface Leg {
  readonly fromS: number
  readonly toS: number
  readonly speedMs: number
}

export interface Road {
  readonly durationS: number
  /** Wished speed, m/s, every 0.2 s. */
  readonly speed: Float64Array
  /** Legs to be driven with cruise control. */
  readonly cruise: readonly Leg[]
  slopeAt(distanceM: number): number
}

export const ROAD_STEP_S = 0.2
const SHARES = [589, 433, 455, 323]
const TOPS = [56, 76, 97, 131]

export function makeRoad(options: RoadOptions, random: Random): Road {
  const phases = options.phases ?? [0, 1, 2, 3]
  const haste = options.haste ?? 1
  const whole = phases.reduce((sum, phase) => sum + SHARES[phase]!, 0)
  const speeds: number[] = []
  const cruise: Leg[] = []
  let v = 0
  const stay = (seconds: number): void => {
    for (let t = 0; t < seconds; t += ROAD_STEP_S) speeds.push(v)
  }
  const goTo = (aim: number, rate: number): void => {
    const span = Math.max(1, Math.abs(aim - v) / rate)
    const from = v
    const steps = Math.ceil(span / ROAD_STEP_S)
    for (let i = 1; i <= steps; i++) {
      const x = i / steps
      v = from + (aim - from) * x * x * (3 - 2 * x)
      speeds.push(v)
    }
  }
  stay(2)
  let until = 0
  for (const phase of phases) {
    until += (options.durationS * SHARES[phase]!) / whole
    const top = Math.min(TOPS[phase]!, options.topKmh ?? 131) / 3.6
    while (speeds.length * ROAD_STEP_S < until) {
      const aim = top * random.between(0.5, 1)
      goTo(aim * random.between(0.4, 0.7), haste * random.between(0.7, 1.5) * 0.8)
      goTo(aim, haste * random.between(0.35, 0.9))
      const holdS = random.between(6, 14 + 16 * phase)
      if (options.cruise && phase >= 1 && aim > 11) {
        const fromS = speeds.length * ROAD_STEP_S
        stay(Math.max(25, holdS * 1.3))
        cruise.push({ fromS, toS: speeds.length * ROAD_STEP_S, speedMs: aim })
      } else {
        let wander = 0
        for (let t = 0; t < holdS; t += ROAD_STEP_S) {
          wander += (-wander / 5) * ROAD_STEP_S + 0.35 * Math.sqrt(ROAD_STEP_S) * random.normal()
          v = Math.max(2, aim + wander)
          speeds.push(v)
        }
      }
      const stops = random.chance([0.75, 0.6, 0.45, 0.3][phase]!)
      const low = stops ? 0 : v * random.between(0.35, 0.7)
      if (random.chance(0.5)) goTo(v * random.between(0.75, 0.9), haste * random.between(0.3, 0.6))
      goTo(low, haste * random.between(0.55, 1.6))
      if (stops) stay(random.between(4, 18))
    }
  }
  goTo(0, 0.9)
  stay(5)
  const steepest = (options.slopePercent ?? 0) / 100
  const lengths = Array.from({ length: 200 }, () => random.between(180, 700))
  const slopes = lengths.map(() => steepest * random.between(-1, 1))
  const starts = lengths.map((_, i) => lengths.slice(0, i).reduce((sum, each) => sum + each, 0))
  const total = starts[199]! + lengths[199]!
  let last = 0
  return {
    durationS: speeds.length * ROAD_STEP_S,
    speed: Float64Array.from(speeds),
    cruise,
    slopeAt: (distanceM) => {
      if (steepest === 0) return 0
      const at = distanceM % total
      if (at < starts[last]!) last = 0
      while (last < 199 && at >= starts[last + 1]!) last++
      // Straight from the middle of one stretch to that of the next.
      const share = (at - starts[last]!) / lengths[last]!
      return slopes[last]! + (slopes[(last + 1) % 200]! - slopes[last]!) * share
    },
  }
}
