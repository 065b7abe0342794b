import { fourier } from './fourier.ts'

/** Correlation of two gridded series at every whole lag; entry k belongs to lag k − zero. */
export interface LagCorrelation {
  readonly zero: number
  /** Correlation over what overlaps, −1 … 1; 0 where too little does. */
  readonly r: Float64Array
  /**
   * How many times likelier (natural logarithm) the series are the same thing at this lag than unrelated:
   * −n/2 · ln(1 − r²), n the overlap in independent samples.
   */
  readonly evidence: Float64Array
}

/**
 * r(L) = Σ x[i + L]·y[i] / √(Σ x²·Σ y²) over the i where both are known (NaN: unknown). Both should have no trend
 * (mean 0 in any stretch). Independent samples after Bartlett: n / Σ ρx(k)·ρy(k).
 * @param leastOverlap known pairs below which r is 0
 * Source: Bartlett 1946, for the variance of a cross-correlation (from memory).
 */
export function lagCorrelation(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  leastOverlap: number,
): LagCorrelation {
  let n = 1
  while (n < x.length + y.length) n *= 2
  const fx = transform(x, n, (value) => value)
  const fy = transform(y, n, (value) => value)
  const known = product(
    transform(x, n, () => 1),
    transform(y, n, () => 1),
  )
  const xy = product(fx, fy)
  const xx = product(
    transform(x, n, (value) => value * value),
    transform(y, n, () => 1),
  )
  const yy = product(
    transform(x, n, () => 1),
    transform(y, n, (value) => value * value),
  )
  const dependent = dependence(product(fx, fx), product(fy, fy), Math.min(x.length, y.length))
  const zero = y.length - 1
  const r = new Float64Array(zero + x.length)
  const evidence = new Float64Array(r.length)
  for (let k = 0; k < r.length; k++) {
    const at = (k - zero + n) % n
    const pairs = Math.round(known[at]!)
    const scale = Math.sqrt(Math.max(0, xx[at]!) * Math.max(0, yy[at]!))
    if (
      pairs < leastOverlap ||
      !(scale > 1e-9 * Math.sqrt(Math.max(xx[0]!, 1e-300) * Math.max(yy[0]!, 1e-300)))
    )
      continue
    const found = Math.max(-0.999999, Math.min(0.999999, xy[at]! / scale))
    r[k] = found
    evidence[k] = (-pairs / dependent / 2) * Math.log(1 - found * found)
  }
  return { zero, r, evidence }
}

interface Spectrum {
  readonly real: Float64Array
  readonly imaginary: Float64Array
}

function transform(values: ArrayLike<number>, n: number, of: (value: number) => number): Spectrum {
  const real = new Float64Array(n)
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i]!)) real[i] = of(values[i]!)
  const imaginary = new Float64Array(n)
  fourier(real, imaginary)
  return { real, imaginary }
}

/** Σ a[i + L]·b[i] for every L (modulo the length). */
function product(a: Spectrum, b: Spectrum): Float64Array {
  const n = a.real.length
  const real = new Float64Array(n)
  const imaginary = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    real[i] = a.real[i]! * b.real[i]! + a.imaginary[i]! * b.imaginary[i]!
    imaginary[i] = a.imaginary[i]! * b.real[i]! - a.real[i]! * b.imaginary[i]!
  }
  fourier(real, imaginary, true)
  return real
}

/** Σ ρx(k)·ρy(k) over lags up to a quarter of the shorter series; at least 1. */
function dependence(xx: Float64Array, yy: Float64Array, length: number): number {
  if (!(xx[0]! > 0 && yy[0]! > 0)) return 1
  let sum = 1
  for (let k = 1; k < length / 4; k++) sum += (2 * xx[k]! * yy[k]!) / (xx[0]! * yy[0]!)
  return Math.max(1, sum)
}
