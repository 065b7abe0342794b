/**
 * A trouble code's name from its two bytes: letter by the two highest bits (P, C, B, U), first digit by the next two, the
 * rest hexadecimal. Source: ISO 15031-6 / SAE J2012, from memory (0x0143 → P0143).
 */
export function troubleCode(high: number, low: number): string {
  const letter = 'PCBU'[high >> 6]!
  const digits = (((high & 0x3f) << 8) | low).toString(16).toUpperCase().padStart(4, '0')
  return `${letter}${digits}`
}
