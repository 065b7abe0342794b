/**
 * How a cell's resistance falls as it warms.
 *
 * Model:  R(T) = R(T₀) · e^(E · (1/T − 1/T₀)), T in kelvin; E is the activation energy over the gas constant, K. The
 *         ohmic part (electrolyte, and what answers at once) and the slow part (kinetics, diffusion) have one each; metal
 *         rises instead: `copperFactor`.
 * Gives:  factors and shares per kelvin.
 * Biased by: a resistance read at a changing charge (it changes with charge as well); sensors that lag the cells.
 * Blind:  below the freezing of the electrolyte, where no one law holds; ageing cells.
 * Source: Arrhenius' law, any textbook. Energies: ohmic 17 to 25 kJ/mol, slow 30 to 50 kJ/mol over the chemistries,
 *         from memory.
 */
export interface WarmthLaw {
  /** E of the part that answers at once and of the slow part, K, and how much cells of one chemistry differ. */
  readonly ohmic: Activation
  readonly slow: Activation
}

export interface Activation {
  readonly kelvin: number
  /** Standard deviation of what E may be, K. */
  readonly spread: number
}

/** By chemistry: from memory. The spread holds makers and ages apart. */
const USUAL: WarmthLaw = { ohmic: { kelvin: 2500, spread: 800 }, slow: { kelvin: 4500, spread: 1500 } }
const BY_CHEMISTRY: Readonly<Record<string, WarmthLaw>> = {
  nmc: { ohmic: { kelvin: 2500, spread: 700 }, slow: { kelvin: 4500, spread: 1300 } },
  nca: { ohmic: { kelvin: 2500, spread: 700 }, slow: { kelvin: 4500, spread: 1300 } },
  lfp: { ohmic: { kelvin: 2500, spread: 900 }, slow: { kelvin: 4500, spread: 1500 } },
  lto: { ohmic: { kelvin: 2000, spread: 800 }, slow: { kelvin: 4000, spread: 1500 } },
}

const ZERO_C = 273.15

/** What is expected of a chemistry before the drive is looked at; an unknown one gets the widest spread. */
export function warmthLaw(chemistry: string | undefined): WarmthLaw {
  return BY_CHEMISTRY[(chemistry ?? '').toLowerCase()] ?? USUAL
}

/** Resistance at a temperature over that at a reference, both °C. */
export function warmthFactor(activationK: number, celsius: number, referenceC = 25): number {
  return Math.exp(activationK * (1 / (celsius + ZERO_C) - 1 / (referenceC + ZERO_C)))
}

/** Share by which resistance falls per kelvin about a temperature, 1/K. */
export function fallPerKelvin(activationK: number, celsius: number): number {
  return activationK / (celsius + ZERO_C) ** 2
}
