/**
 * Open-circuit voltage of one cell against state of charge. Knots from memory of typical automotive NMC and LFP
 * cells, own figures, no data sheet; between them a monotone cubic (Fritsch and Carlson 1980), so that the slope is
 * smooth and never negative. Charge and discharge curves are taken as one (no hysteresis).
 */
export type Chemistry = 'nmc' | 'lfp'

/** [percent, volt], rising. */
export const OPEN_CIRCUIT_KNOTS: Readonly<Record<Chemistry, readonly (readonly [number, number])[]>> = {
  nmc: [
    [0, 3.0],
    [5, 3.34],
    [10, 3.455],
    [20, 3.56],
    [30, 3.612],
    [40, 3.653],
    [50, 3.715],
    [60, 3.816],
    [70, 3.918],
    [80, 4.013],
    [90, 4.092],
    [100, 4.19],
  ],
  lfp: [
    [0, 2.6],
    [3, 2.95],
    [7, 3.14],
    [12, 3.2],
    [20, 3.248],
    [30, 3.281],
    [40, 3.2895],
    [50, 3.2935],
    [60, 3.304],
    [68, 3.327],
    [80, 3.3315],
    [90, 3.3345],
    [97, 3.348],
    [100, 3.45],
  ],
}

const POINTS = 4000

function monotoneCubic(knots: readonly (readonly [number, number])[]): Float64Array {
  const n = knots.length
  const x = knots.map((knot) => knot[0] / 100)
  const y = knots.map((knot) => knot[1])
  const secant = x.slice(1).map((next, i) => (y[i + 1]! - y[i]!) / (next - x[i]!))
  const slope = x.map((_, i) => (i === 0 ? secant[0]! : i === n - 1 ? secant[n - 2]! : 0))
  for (let i = 1; i < n - 1; i++) {
    const before = x[i]! - x[i - 1]!
    const after = x[i + 1]! - x[i]!
    const w1 = 2 * after + before
    const w2 = after + 2 * before
    slope[i] = (w1 + w2) / (w1 / secant[i - 1]! + w2 / secant[i]!)
  }
  const table = new Float64Array(POINTS + 2)
  let at = 0
  for (let p = 0; p <= POINTS; p++) {
    const s = p / POINTS
    while (at < n - 2 && s > x[at + 1]!) at++
    const h = x[at + 1]! - x[at]!
    const t = (s - x[at]!) / h
    const u = 1 - t
    table[p] =
      y[at]! * u * u * (1 + 2 * t) +
      slope[at]! * h * t * u * u +
      y[at + 1]! * t * t * (3 - 2 * t) -
      slope[at + 1]! * h * t * t * u
  }
  table[POINTS + 1] = 2 * table[POINTS]! - table[POINTS - 1]!
  return table
}

const TABLES: Readonly<Record<Chemistry, Float64Array>> = {
  nmc: monotoneCubic(OPEN_CIRCUIT_KNOTS.nmc),
  lfp: monotoneCubic(OPEN_CIRCUIT_KNOTS.lfp),
}

/** Volt at a state of charge 0 … 1; straight on beyond both ends. */
export function openCircuitVolt(chemistry: Chemistry, soc: number): number {
  const table = TABLES[chemistry]
  const place = soc * POINTS
  const at = place <= 0 ? 0 : place >= POINTS ? POINTS - 1 : Math.floor(place)
  return table[at]! + (place - at) * (table[at + 1]! - table[at]!)
}
