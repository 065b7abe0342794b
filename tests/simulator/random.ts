/**
 * Seeded random numbers (xoshiro128**, Blackman and Vigna, from memory; seeded by a splitmix step). The same seed
 * gives the same drive on every machine. `fork(label)` gives an independent stream, so that adding a noise source
 * somewhere does not change the rest of the drive.
 */
export class Random {
  private a: number
  private b: number
  private c: number
  private d: number
  private spare = Number.NaN

  constructor(private readonly seed: number) {
    let state = seed | 0
    const mix = (): number => {
      state = (state + 0x9e3779b9) | 0
      let z = state
      z = Math.imul(z ^ (z >>> 16), 0x85ebca6b)
      z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35)
      return z ^ (z >>> 16)
    }
    this.a = mix()
    this.b = mix()
    this.c = mix()
    this.d = mix()
  }

  /** Uniform, 0 ≤ x < 1. */
  next(): number {
    const twisted = Math.imul(this.b, 5)
    const result = Math.imul((twisted << 7) | (twisted >>> 25), 9)
    const shifted = this.b << 9
    this.c ^= this.a
    this.d ^= this.b
    this.b ^= this.c
    this.a ^= this.d
    this.c ^= shifted
    this.d = (this.d << 11) | (this.d >>> 21)
    return (result >>> 0) / 4294967296
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next()
  }

  /** Whole number, low ≤ n ≤ high. */
  whole(low: number, high: number): number {
    return low + Math.floor(this.next() * (high - low + 1))
  }

  chance(share: number): boolean {
    return this.next() < share
  }

  pick<T>(list: readonly T[]): T {
    return list[Math.floor(this.next() * list.length)]!
  }

  /** Standard normal (Marsaglia's polar method). */
  normal(): number {
    if (!Number.isNaN(this.spare)) {
      const kept = this.spare
      this.spare = Number.NaN
      return kept
    }
    for (;;) {
      const u = 2 * this.next() - 1
      const v = 2 * this.next() - 1
      const s = u * u + v * v
      if (s >= 1 || s === 0) continue
      const scale = Math.sqrt((-2 * Math.log(s)) / s)
      this.spare = v * scale
      return u * scale
    }
  }

  fork(label: string): Random {
    let hash = this.seed ^ 0x51ed270b
    for (let i = 0; i < label.length; i++) hash = Math.imul(hash ^ label.charCodeAt(i), 0x01000193)
    return new Random(hash)
  }
}
