/** Round steps inside a range: 1, 2 or 5 times a power of ten. */
export function steps([low, high]: readonly [number, number], about: number): number[] {
  const raw = (high - low) / about
  const power = 10 ** Math.floor(Math.log10(raw))
  const step = [1, 2, 5, 10].map((m) => m * power).find((each) => each >= raw * 0.999)!
  const out: number[] = []
  for (let i = Math.ceil(low / step); i * step <= high + step * 1e-9; i++) out.push(i * step)
  return out
}
