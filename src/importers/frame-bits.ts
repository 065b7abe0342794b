/**
 * Bits that a frame takes on the bus, the three bits of intermission included.
 * Source: classic frames 47 + 8n (11-bit identifier) and 67 + 8n (29-bit); at worst one stuff bit in four over the
 * stuffed part: ⌊(34 + 8n − 1)/4⌋ and ⌊(54 + 8n − 1)/4⌋ (Tindell; Davis, Burns, Bril, Lukkien 2007).
 */
export function frameBits(extended: boolean, bytes: number): number {
  return (extended ? 67 : 47) + 8 * bytes
}

export function worstStuffBits(extended: boolean, bytes: number): number {
  return Math.floor(((extended ? 54 : 34) + 8 * bytes - 1) / 4)
}

/**
 * A flexible-data-rate frame in bit times of the slow phase: about 30 (11-bit) or 49 (29-bit) slow bits around a fast
 * phase of 8n + 27 bits (32 above 16 bytes), which lasts `fast` times shorter where the rate is switched.
 * Source: ISO 11898-1 field lengths, from memory; stuffing left out.
 */
export function fdFrameBits(extended: boolean, bytes: number, switched: boolean, fast = 4): number {
  const quick = 8 * bytes + (bytes > 16 ? 32 : 27)
  return (extended ? 49 : 30) + quick / (switched ? fast : 1)
}

/** Usual bit rates, bit/s. Common practice, no source. */
export const USUAL_BIT_RATES = [125_000, 250_000, 500_000, 1_000_000] as const

/** The smallest usual rate that the busiest second fits into; the largest where none does. */
export function inferBitRate(bitsPerSecond: ArrayLike<number>): number {
  let most = 0
  for (let i = 0; i < bitsPerSecond.length; i++) most = Math.max(most, bitsPerSecond[i]!)
  return USUAL_BIT_RATES.find((rate) => most <= rate) ?? USUAL_BIT_RATES[USUAL_BIT_RATES.length - 1]!
}
