import type { Random } from './random.ts'

/**
 * The speed a driver has in mind, on a grid of 0.1 s, and the road's slope over distance.
 *
 * A route is a chain of legs: pull away or speed up at 1.1 … 3.4 m/s² (hard 4.4, gentle 0.8), falling with speed; hold with a slow sway; slow
 * down at 0.8 … 2.5 m/s², now and then harder; stand 3 … 16 s. Corners are rounded by a running mean of 0.9 s, so
 * that the jerk stays that of a person. The route ends standing.
 */
export interface RouteOptions {
  readonly kind: 'urban' | 'rural' | 'mixed' | 'gentle' | 'hard'
  /** Time of the profile; the last stop is added. */
  readonly durationS: number
  /** Largest slope of the road, percent; 0 = flat. */
  readonly slopePercent?: number
}

export interface Route {
  readonly stepS: number
  /** m/s. */
  readonly speed: Float64Array
  /** Slope (rise over run) at a distance in metres. */
  slopeAt(distanceM: number): number
}

const STEP = 0.1
const TOP: Record<RouteOptions['kind'], readonly [number, number]> = {
  urban: [22, 54],
  rural: [48, 98],
  mixed: [24, 92],
  gentle: [18, 38],
  hard: [40, 118],
}

export function makeRoute(options: RouteOptions, random: Random): Route {
  const { kind, durationS } = options
  const speeds: number[] = []
  let v = 0
  const stand = (seconds: number): void => {
    for (let t = 0; t < seconds; t += STEP) speeds.push((v = 0))
  }
  stand(1)
  while (speeds.length * STEP < durationS) {
    const target = random.between(...TOP[kind]) / 3.6
    const pull =
      kind === 'gentle' ? random.between(0.4, 0.8) : random.between(1.1, kind === 'hard' ? 4.4 : 3.4)
    while (v < target - 0.05) {
      v = Math.min(target, v + (pull * STEP) / (1 + v / 22))
      speeds.push(v)
    }
    const holdS = random.between(4, kind === 'rural' ? 50 : kind === 'hard' ? 12 : 24)
    const sway = random.between(0.01, 0.035)
    const period = random.between(6, 17)
    const start = v
    for (let t = 0; t < holdS; t += STEP) {
      v = start * (1 + sway * Math.sin((2 * Math.PI * t) / period))
      speeds.push(v)
    }
    const stop = random.chance(kind === 'rural' ? 0.35 : 0.6)
    const low = stop ? 0 : v * random.between(0.3, 0.75)
    const brake = kind === 'gentle' ? random.between(0.4, 0.9) : random.between(0.8, 2.5)
    const harder = kind !== 'gentle' && random.chance(0.15) ? 1.6 : 1
    while (v > low + 0.02) {
      v = Math.max(low, v - brake * harder * STEP)
      speeds.push(v)
    }
    if (stop) stand(random.between(3, kind === 'hard' ? 6 : 16))
  }
  while (v > 0.02) speeds.push((v = Math.max(0, v - 1.2 * STEP)))
  stand(4)
  const half = 4
  const rounded = Float64Array.from(speeds, (_, i) => {
    let sum = 0
    for (let j = i - half; j <= i + half; j++) sum += speeds[Math.max(0, Math.min(speeds.length - 1, j))]!
    return sum / (2 * half + 1)
  })
  const top = (options.slopePercent ?? 0) / 100
  const waves = [random.between(350, 900), random.between(900, 2600)].map((length) => ({
    length,
    phase: random.between(0, 6.28),
  }))
  return {
    stepS: STEP,
    speed: rounded,
    slopeAt: (distanceM) =>
      top === 0
        ? 0
        : (top / 2) *
          waves.reduce(
            (sum, wave) => sum + Math.sin((2 * Math.PI * distanceM) / wave.length + wave.phase),
            0,
          ),
  }
}
