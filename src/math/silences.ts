import type { Span } from '../../shared/units.ts'

/**
 * Stretches of [from, to) longer than `leastS` in which none of the series has a sample; ascending. The stretch before
 * the first and after the last sample counts.
 * @param series each with its times, never falling
 */
export function silences(
  series: readonly ArrayLike<number>[],
  leastS: number,
  from: number,
  to: number,
): Span[] {
  let open: Span[] = to - from > leastS ? [[from, to]] : []
  // the densest series first: it leaves the fewest stretches for the others to look at
  for (const timeS of [...series].sort((a, b) => b.length - a.length)) {
    if (open.length === 0) break
    open = open.flatMap((span) => split(timeS, span, leastS))
  }
  return open
}

function split(timeS: ArrayLike<number>, [from, to]: Span, leastS: number): Span[] {
  let low = 0
  let high = timeS.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timeS[middle]! < from) low = middle + 1
    else high = middle
  }
  const parts: Span[] = []
  let last = from
  for (let i = low; i < timeS.length && timeS[i]! <= to; i++) {
    if (timeS[i]! - last > leastS) parts.push([last, timeS[i]!])
    last = timeS[i]!
  }
  if (to - last > leastS) parts.push([last, to])
  return parts
}
