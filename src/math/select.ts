/**
 * Puts the value of rank `k` (0 = lowest) at place k of `a[from … to]`: nothing above it before, nothing below it after. In time
 * that grows with the count alone, where sorting all of it grows faster. No entry may be NaN.
 *
 * Source: Hoare, Algorithm 65: find (1961), with the median of three as pivot (from memory).
 */
export function selectInPlace(a: Float64Array, k: number, from = 0, to = a.length - 1): number {
  let left = from
  let right = to
  let rounds = 0
  while (right > left) {
    // an order made to fool the pivot (never seen in a log) must not cost the square of the count
    if (right - left < 12 || ++rounds > 100) {
      a.subarray(left, right + 1).sort()
      break
    }
    const pivot = middleOf(a[left]!, a[(left + right) >>> 1]!, a[right]!)
    let i = left
    let j = right
    while (i <= j) {
      while (a[i]! < pivot) i++
      while (a[j]! > pivot) j--
      if (i > j) break
      const kept = a[i]!
      a[i++] = a[j]!
      a[j--] = kept
    }
    if (k <= j) right = j
    else if (k >= i) left = i
    else break
  }
  return a[k]!
}

function middleOf(a: number, b: number, c: number): number {
  if (a < b) return b < c ? b : Math.max(a, c)
  return a < c ? a : Math.max(b, c)
}
