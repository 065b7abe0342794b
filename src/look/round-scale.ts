/** Scales that people choose, most usual first. Common practice, no source. */
const USUAL = [1, 5, 2]
const LESS_USUAL = [2.5, 4, 1.25, 8, 1.5]

export interface RoundScale {
  readonly factor: number
  /** 0 for a power of ten, more for what is chosen less often. */
  readonly oddness: number
}

/** Round factors between `low` and `high` (both above 0): 1, 2, 5 times powers of ten, quarters, powers of two. */
export function roundScales(low: number, high: number): RoundScale[] {
  const found = new Map<number, number>()
  const add = (factor: number, oddness: number): void => {
    if (factor >= low && factor <= high)
      found.set(factor, Math.min(oddness, found.get(factor) ?? Number.POSITIVE_INFINITY))
  }
  for (let power = -6; power <= 4; power++) {
    const ten = (m: number): number => Number(`${m}e${power}`)
    USUAL.forEach((m, at) => {
      add(ten(m), at === 0 ? 0 : 0.1)
    })
    for (const m of LESS_USUAL) add(ten(m), 0.5)
  }
  for (let n = 1; n <= 12; n++) add(2 ** -n, n <= 2 ? 0.1 : 0.5)
  return [...found].map(([factor, oddness]) => ({ factor, oddness }))
}

/** Offsets that people choose, in the channel's unit: none, or what keeps cold temperatures above zero. Common practice. */
export function roundOffset(
  offset: number,
  within: number,
  unit: string,
): { readonly offset: number; readonly oddness: number } | null {
  const choices: readonly (readonly [number, number])[] =
    unit === '°C'
      ? [
          [0, 0],
          [-40, 0.1],
          [-50, 0.4],
          [-273.15, 0.5],
          [-100, 0.6],
        ]
      : [[0, 0]]
  const near = choices
    .filter(([choice]) => Math.abs(offset - choice) <= within)
    .sort((a, b) => Math.abs(offset - a[0]) - Math.abs(offset - b[0]))[0]
  return near ? { offset: near[0], oddness: near[1] } : null
}

/** An offset such as −1000 or −3276.8 that makes room for negative values: a power of ten, its half, or half the range. */
export function roomOffset(
  offset: number,
  within: number,
  factor: number,
  length: number,
): { readonly offset: number; readonly oddness: number } | null {
  const choices = [-(2 ** (length - 1)) * factor]
  for (const m of [1, 2, 2.5, 3, 4, 5, 6, 8])
    for (let power = 0; power <= 5; power++) choices.push(-Number(`${m}e${power}`))
  const near = choices.sort((a, b) => Math.abs(offset - a) - Math.abs(offset - b))[0]!
  return Math.abs(offset - near) <= Math.min(within, 0.02 * Math.abs(near))
    ? { offset: near, oddness: 0.5 }
    : null
}
