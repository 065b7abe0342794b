/**
 * Fast Fourier transform of a complex series, in place, length a power of two (radix 2). Forward without scaling;
 * the inverse divides by the length. Source: Cooley & Tukey 1965 (from memory); checked against the plain sum.
 */
export function fourier(real: Float64Array, imaginary: Float64Array, inverse = false): void {
  const n = real.length
  for (let i = 1, j = 0; i < n; i++) {
    let bit = n >> 1
    for (; j & bit; bit >>= 1) j ^= bit
    j ^= bit
    if (i < j) {
      const r = real[i]!
      real[i] = real[j]!
      real[j] = r
      const m = imaginary[i]!
      imaginary[i] = imaginary[j]!
      imaginary[j] = m
    }
  }
  const turn = ((inverse ? 1 : -1) * 2 * Math.PI) / n
  const cosines = new Float64Array(n / 2)
  const sines = new Float64Array(n / 2)
  for (let i = 0; i < n / 2; i++) {
    cosines[i] = Math.cos(turn * i)
    sines[i] = Math.sin(turn * i)
  }
  for (let size = 2; size <= n; size *= 2) {
    const half = size / 2
    const stride = n / size
    for (let start = 0; start < n; start += size)
      for (let k = 0; k < half; k++) {
        const c = cosines[k * stride]!
        const s = sines[k * stride]!
        const a = start + k
        const b = a + half
        const r = real[b]! * c - imaginary[b]! * s
        const m = real[b]! * s + imaginary[b]! * c
        real[b] = real[a]! - r
        imaginary[b] = imaginary[a]! - m
        real[a]! += r
        imaginary[a]! += m
      }
  }
  if (!inverse) return
  for (let i = 0; i < n; i++) {
    real[i]! /= n
    imaginary[i]! /= n
  }
}
