/**
 * Student's t: how many standard errors hold a given share, when the spread was estimated from few values.
 */

/**
 * The quantile of Student's t.
 * @param share 0 … 1, for a two-sided 95 % interval 0.975
 * @param degrees of freedom > 0; infinite gives the normal quantile
 *
 * By bisection on the distribution function. Checked against the table's 12.706, 2.228, 1.984, 1.960 (0.975 at 1,
 * 10, 100, ∞). Source of the closed forms: Abramowitz & Stegun 26.5.8, 26.7.1 (from memory).
 */
export function studentT(share: number, degrees: number): number {
  if (!(degrees > 0) || !(share > 0 && share < 1)) return Number.NaN
  if (share < 0.5) return -studentT(1 - share, degrees)
  if (degrees > 1e6) return normalQuantile(share)
  let low = 0
  let high = 1
  while (studentBelow(high, degrees) < share) high *= 2
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2
    if (studentBelow(middle, degrees) < share) low = middle
    else high = middle
  }
  return (low + high) / 2
}

/** P(T < t) for t ≥ 0. */
export function studentBelow(t: number, degrees: number): number {
  return 1 - 0.5 * incompleteBeta(degrees / (degrees + t * t), degrees / 2, 0.5)
}

/** Regularised incomplete beta I_x(a, b) by its continued fraction. */
function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0
  if (x >= 1) return 1
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a)
  const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log(1 - x))
  let c = 1
  let d = 1 / (1 - ((a + b) * x) / (a + 1))
  let fraction = d
  for (let m = 1; m < 300; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m))
    d = 1 / (1 + even * d)
    c = 1 + even / c
    fraction *= d * c
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1))
    d = 1 / (1 + odd * d)
    c = 1 + odd / c
    fraction *= d * c
    if (Math.abs(d * c - 1) < 1e-14) break
  }
  return (front * fraction) / a
}

const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
]

/** ln Γ(x), x > 0, by Lanczos' series (g = 7, nine terms). */
function logGamma(x: number): number {
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x)
  const z = x - 1
  let sum = LANCZOS[0]!
  for (let i = 1; i < 9; i++) sum += LANCZOS[i]! / (z + i)
  const t = z + 7.5
  return 0.5 * Math.log(2 * Math.PI) + (z + 0.5) * Math.log(t) - t + Math.log(sum)
}

/** Quantile of the standard normal, by bisection on the error function's series. */
export function normalQuantile(share: number): number {
  let low = -10
  let high = 10
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2
    if (normalBelow(middle) < share) low = middle
    else high = middle
  }
  return (low + high) / 2
}

/** P(Z < z) for a standard normal Z. */
export function normalBelow(z: number): number {
  if (z < -8) return 0
  if (z > 8) return 1
  let sum = z
  let term = z
  for (let n = 1; Math.abs(term) > 1e-17 * Math.abs(sum) && n < 300; n++) {
    term *= (z * z) / (2 * n + 1)
    sum += term
  }
  return 0.5 + (sum * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI)
}
