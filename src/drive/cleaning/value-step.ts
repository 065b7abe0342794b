/** Fewer values show no step. */
const FEWEST_VALUES = 3

/**
 * Smallest step between the readings of a channel (its quantisation): the smallest spacing of the distinct values
 * seen that at least one in fifty neighbouring pairs shows, from up to 5000 samples; 0 where fewer than three
 * values were seen or no step repeats (a computed or smoothed channel).
 */
export function valueStep(values: ArrayLike<number>): number {
  const stride = Math.max(1, Math.floor(values.length / 5000))
  const seen = new Set<number>()
  for (let i = 0; i < values.length; i += stride) {
    const value = values[i]!
    if (Number.isFinite(value)) seen.add(value)
  }
  if (seen.size < FEWEST_VALUES) return 0
  const sorted = Float64Array.from(seen).sort()
  const spacings = new Float64Array(sorted.length - 1)
  for (let i = 1; i < sorted.length; i++) spacings[i - 1] = sorted[i]! - sorted[i - 1]!
  spacings.sort()
  const span = sorted[sorted.length - 1]! - sorted[0]!
  const rounding = 1e-9 * Math.max(Math.abs(sorted[0]!), Math.abs(sorted[sorted.length - 1]!))
  const step = spacings[Math.floor(spacings.length / 50)]!
  if (!(step > rounding)) return 0
  let alike = 0
  for (const spacing of spacings) {
    const times = spacing / step
    if (Math.abs(times - Math.round(times)) < 0.02 + rounding / step) alike++
  }
  if (alike < 0.9 * spacings.length || span < step) return 0
  return Number(step.toPrecision(6))
}
