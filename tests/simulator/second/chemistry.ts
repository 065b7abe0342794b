/**
 * Published parameter sets of single-particle cells, per electrode. Figures from memory, no copy of the papers at hand;
 * what is our own is said.
 *
 * - `nmc`: LG M50, 5 Ah, NMC 811 against graphite with SiOx: C.-H. Chen et al., J. Electrochem. Soc. 167 (2020) 080534
 *   (geometry, stoichiometries, diffusivities, exchange currents, both open-circuit functions).
 * - `lfp`: 2.3 Ah cylindrical LFP against graphite: E. Prada et al., J. Electrochem. Soc. 160 (2013) A616 (geometry,
 *   diffusivities); LFP's open-circuit function as Afshar et al. (2017), graphite's as Safari and Delacourt, J. Electrochem.
 *   Soc. 158 (2011) A562; exchange currents of the size of Chen's. No hysteresis.
 *
 * Own: activation energy of diffusion (30 kJ/mol both), entropy curve (see `entropyVoltKelvin`).
 */
export type ChemistryName = 'nmc' | 'lfp'

export interface Electrode {
  /** Stoichiometry with the cell empty and full. */
  readonly empty: number
  readonly full: number
  /** R² / D at 25 °C, s. */
  readonly diffusionS: number
  /** Exchange current at stoichiometry ½ and 25 °C, A per Ah of the cell. */
  readonly exchangePerAh: number
  /** Activation energies over the gas constant, K. */
  readonly diffusionK: number
  readonly kineticK: number
  /** Open-circuit potential against lithium, V. */
  readonly potential: (stoichiometry: number) => number
}

export interface Chemistry {
  readonly name: ChemistryName
  readonly negative: Electrode
  readonly positive: Electrode
  readonly voltMin: number
  readonly voltMax: number
  readonly kgPerAh: number
}

const GAS = 8.314462618
export const FARADAY = 96485.33212
/** R T / F. */
export const thermalVolt = (celsius: number): number => (GAS * (celsius + 273.15)) / FARADAY

interface Published {
  readonly empty: number
  readonly full: number
  readonly radiusM: number
  readonly diffusivity: number
  readonly thicknessM: number
  readonly activeShare: number
  readonly maxMolM3: number
  /** j0 = m √ce √(c (cmax − c)), A/m² with c in mol/m³, ce = 1000. */
  readonly exchange: number
  readonly kineticJ: number
  readonly potential: (stoichiometry: number) => number
}

function electrode(from: Published, areaM2: number, cellAh: number): Electrode {
  const surfaceM2 = ((3 * from.activeShare) / from.radiusM) * from.thicknessM * areaM2
  const amps = from.exchange * Math.sqrt(1000) * 0.5 * from.maxMolM3 * surfaceM2
  return {
    empty: from.empty,
    full: from.full,
    diffusionS: from.radiusM ** 2 / from.diffusivity,
    exchangePerAh: amps / cellAh,
    diffusionK: 30_000 / GAS,
    kineticK: from.kineticJ / GAS,
    potential: from.potential,
  }
}

const { exp, tanh } = Math

const CHEN_GRAPHITE: Published = {
  empty: 0.0279,
  full: 0.9014,
  radiusM: 5.86e-6,
  diffusivity: 3.3e-14,
  thicknessM: 85.2e-6,
  activeShare: 0.75,
  maxMolM3: 33_133,
  exchange: 6.48e-7,
  kineticJ: 35_000,
  potential: (x) =>
    1.9793 * exp(-39.3631 * x) +
    0.2482 -
    0.0909 * tanh(29.8538 * (x - 0.1234)) -
    0.04478 * tanh(14.9159 * (x - 0.2769)) -
    0.0205 * tanh(30.4444 * (x - 0.6103)),
}

const CHEN_NMC: Published = {
  empty: 0.9084,
  full: 0.2661,
  radiusM: 5.22e-6,
  diffusivity: 4e-15,
  thicknessM: 75.6e-6,
  activeShare: 0.665,
  maxMolM3: 63_104,
  exchange: 3.42e-6,
  kineticJ: 17_800,
  potential: (y) =>
    -0.809 * y +
    4.4875 -
    0.0428 * tanh(18.5138 * (y - 0.5542)) -
    17.7326 * tanh(15.789 * (y - 0.3117)) +
    17.5842 * tanh(15.9308 * (y - 0.312)),
}

const PRADA_GRAPHITE: Published = {
  empty: 0.014,
  full: 0.81,
  radiusM: 5e-6,
  diffusivity: 3e-15,
  thicknessM: 34e-6,
  activeShare: 0.58,
  maxMolM3: 30_555,
  exchange: 6.48e-7,
  kineticJ: 35_000,
  potential: (x) =>
    0.6379 +
    0.5416 * exp(-305.5309 * x) +
    0.044 * tanh(-(x - 0.1958) / 0.1088) -
    0.1978 * tanh((x - 1.0571) / 0.0854) -
    0.6875 * tanh((x + 0.0117) / 0.0529) -
    0.0175 * tanh((x - 0.5692) / 0.0875),
}

const PRADA_LFP: Published = {
  empty: 0.9,
  full: 0.035,
  radiusM: 5e-8,
  diffusivity: 5.9e-18,
  thicknessM: 80e-6,
  activeShare: 0.374,
  maxMolM3: 22_806,
  exchange: 6e-7,
  kineticJ: 30_000,
  potential: (y) => 3.4077 - 0.020269 * y + 0.5 * exp(-150 * y) - 0.9 * exp(-30 * (1 - y)),
}

export const CHEMISTRIES: Readonly<Record<ChemistryName, Chemistry>> = {
  nmc: {
    name: 'nmc',
    negative: electrode(CHEN_GRAPHITE, 0.1027, 5),
    positive: electrode(CHEN_NMC, 0.1027, 5),
    voltMin: 2.7,
    voltMax: 4.2,
    kgPerAh: 0.0175,
  },
  lfp: {
    name: 'lfp',
    negative: electrode(PRADA_GRAPHITE, 0.18, 2.3),
    positive: electrode(PRADA_LFP, 0.18, 2.3),
    voltMin: 2.5,
    voltMax: 3.65,
    kgPerAh: 0.0205,
  },
}

/** Volt of the cell at rest and even throughout, at a state of charge 0 … 1. */
export function restVolt({ negative, positive }: Chemistry, soc: number): number {
  return (
    positive.potential(positive.empty + soc * (positive.full - positive.empty)) -
    negative.potential(negative.empty + soc * (negative.full - negative.empty))
  )
}

/** dU/dT, V/K: a wave of 0.12 mV/K over the charge; own figure of the usual size, so that part of the heat is reversible. */
export function entropyVoltKelvin(soc: number): number {
  return 1.2e-4 * Math.sin(2 * Math.PI * (soc - 0.35))
}

const POINTS = 5000

/** A function of a stoichiometry as a table; straight between its points, the ends beyond. */
export class Table {
  private readonly values: Float64Array

  constructor(of: (x: number) => number) {
    this.values = Float64Array.from({ length: POINTS + 2 }, (_, i) => of(Math.min(i, POINTS) / POINTS))
  }

  at(x: number): number {
    const place = x <= 0 ? 0 : x >= 1 ? POINTS : x * POINTS
    const low = place | 0
    return this.values[low]! + (place - low) * (this.values[low + 1]! - this.values[low]!)
  }
}
