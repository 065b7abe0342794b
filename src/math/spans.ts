import type { Span } from '../../shared/units.ts'

/** Spans where `holds(i)` is true for consecutive samples; a span ends at the first sample that does not hold. */
export function spansWhere(timeS: ArrayLike<number>, holds: (index: number) => boolean): Span[] {
  const spans: Span[] = []
  let from = -1
  for (let i = 0; i < timeS.length; i++) {
    if (holds(i)) {
      if (from < 0) from = i
    } else if (from >= 0) {
      spans.push([timeS[from]!, timeS[i]!])
      from = -1
    }
  }
  if (from >= 0) spans.push([timeS[from]!, timeS[timeS.length - 1]!])
  return spans
}

export function duration(spans: readonly Span[]): number {
  return spans.reduce((sum, [from, to]) => sum + to - from, 0)
}

/** Is the moment inside one of the ascending spans (half-open)? */
export function within(spans: readonly Span[], atS: number): boolean {
  for (let k = 0; k < spans.length; k++) if (atS >= spans[k]![0] && atS < spans[k]![1]) return true
  return false
}

/** The same for ascending moments, 1 or 0 each: one walk along both. */
export function insideEach(spans: readonly Span[], timeS: ArrayLike<number>): Uint8Array {
  const inside = new Uint8Array(timeS.length)
  let next = 0
  for (let i = 0; i < inside.length && next < spans.length; i++) {
    while (next < spans.length && spans[next]![1] <= timeS[i]!) next++
    if (next < spans.length && timeS[i]! >= spans[next]![0]) inside[i] = 1
  }
  return inside
}

/** The stretches that are in both lists; both ascending and free of overlap. */
export function overlap(a: readonly Span[], b: readonly Span[]): Span[] {
  const both: Span[] = []
  for (const [from, to] of a)
    for (const [start, end] of b) {
      const low = Math.max(from, start)
      const high = Math.min(to, end)
      if (low < high) both.push([low, high])
    }
  return both
}
