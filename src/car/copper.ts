/** Ω·m at 20 °C, 100 % IACS (1/58 · 10⁻⁶), and its rise per kelvin. Source: IEC 60028 (1925). */
const OHM_METRE = 1 / 58e6
const PER_K = 0.00393

/** Resistance of a copper bar or cable, Ω: length in m, cross-section in mm², at a temperature in °C. */
export function copperOhm(lengthM: number, areaMm2: number, celsius = 20): number {
  return ((OHM_METRE * lengthM) / (areaMm2 * 1e-6)) * copperFactor(celsius)
}

/** Resistance of copper at a temperature over that at a reference, both °C. */
export function copperFactor(celsius: number, referenceC = 20): number {
  return (1 + PER_K * (celsius - 20)) / (1 + PER_K * (referenceC - 20))
}
