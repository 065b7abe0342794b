import type { ControllerMap } from '../controller-map.ts'
import type { ChemistryName } from './chemistry.ts'

/** A link between cell k and the next that is not an ordinary one inside a module. */
export interface SpecialLink {
  /** Follows this cell (from 1). */
  readonly afterCell: number
  readonly mohm: number
  readonly kind: 'busbar' | 'cable' | 'service-plug' | 'fuse'
  readonly lengthM: number
  readonly sectionMm2: number
}

/** A conversion as built, for the second simulator; own figures of invented cars. Temperatures °C, ohms mΩ. */
export interface Build {
  readonly name: string
  readonly cells: {
    readonly chemistry: ChemistryName
    readonly perModule: readonly number[]
    readonly parallel: number
    readonly capacityAh: number
    readonly startSoc: number
    /** Ohmic part (foils, electrolyte, tabs), mΩ · Ah: divided by the capacity it is the cell's. */
    readonly ohmicMohmAh: number
    /** Exchange currents and diffusivities against the published set: thinner electrodes have more. */
    readonly kinetics: number
    readonly diffusion: number
    /** Spreads between healthy cells, relative: ohmic, exchange current, capacity; of charge, absolute. */
    readonly ohmicSpread: number
    readonly kineticSpread: number
    readonly capacitySpread: number
    readonly socSpread: number
  }
  readonly links: {
    /** Inside a module, and every second one (terminals alternate between two lengths). */
    readonly insideMohm: number
    readonly secondMohm: number
    readonly spread: number
    readonly special: readonly SpecialLink[]
    readonly readWith: 'lower' | 'upper'
    /** Whether the readings hold the special links. */
    readonly specialRead: boolean
    readonly pathMohm: number
    readonly packVoltageAt: 'cells' | 'pack-terminals' | 'after-contactors'
  }
  readonly boxOfModule: readonly string[]
  readonly heat: {
    readonly ambientC: number
    readonly startC: number
    /** Core to surface, surface to coolant, K/W for a module of 14 kg of cells. */
    readonly coreKelvinWatt: number
    readonly plateKelvinWatt: number
    readonly spread: number
    readonly airKelvinWatt: number
    /** Modules in the order in which each plate's coolant passes them. */
    readonly loops: readonly (readonly number[])[]
    readonly flowWattKelvin: number
    readonly sensorsPerModule: number
    readonly sensorPlaces: readonly ('cell' | 'busbar' | 'plate')[]
    readonly maxC: number
  }
  readonly limits: { readonly chargeA: number; readonly dischargeA: number }
  readonly precharge: {
    readonly resistorOhm: number
    readonly linkFarad: number
    readonly bleedOhm: number
    readonly readyPercent: number
  }
  readonly pedal: {
    readonly track1: readonly [number, number]
    readonly track2: readonly [number, number]
    /** Creep or hill hold torque at most, N·m; null: not said in the vehicle file. */
    readonly creepMaxNm: number
  }
  readonly brake: {
    readonly startBar: number
    readonly fullBar: number
    readonly maxNm: number
    readonly liftNm: number
    readonly fadeKmh: readonly [number, number]
    readonly frictionNewtonBar: number
    readonly zeroBar: number
    /** How the controller departs from a plain ramp; none: it does not. */
    readonly map?: ControllerMap
  }
  readonly road: {
    readonly massKg: number
    readonly wheelRadiusM: number
    /** Whole ratios motor to wheel, first gear first; one: no gearbox. */
    readonly ratios: readonly number[]
    readonly dragAreaM2: number
    readonly rolling: number
    readonly motorMaxNm: number
    readonly motorMaxW: number
    /** How fast the inverter lets torque change, N·m/s. */
    readonly slewNmS: number
    readonly drivenAxle: 'front' | 'rear'
  }
  /** Functions of the driver's side; `shown`: the car writes a channel for each. */
  readonly functions: {
    readonly cruise: boolean
    readonly creep: boolean
    readonly hold: boolean
    readonly shown: boolean
    /** The vehicle file says what the car has. */
    readonly declared: boolean
  }
  readonly auxiliaryW: number
}

export type BuildChanges = {
  readonly [K in keyof Build]?: Build[K] extends readonly unknown[] | string | number
    ? Build[K]
    : Partial<Build[K]>
}

const BASE: Build = {
  name: 'Second build',
  cells: {
    chemistry: 'nmc',
    perModule: [14, 14, 14, 14, 14, 14],
    parallel: 2,
    capacityAh: 62,
    startSoc: 0.72,
    ohmicMohmAh: 42,
    kinetics: 1.8,
    diffusion: 1.8,
    ohmicSpread: 0.02,
    kineticSpread: 0.025,
    capacitySpread: 0.006,
    socSpread: 0.0006,
  },
  links: {
    insideMohm: 0.03,
    secondMohm: 0.045,
    spread: 0.06,
    special: [],
    readWith: 'lower',
    specialRead: true,
    pathMohm: 2.2,
    packVoltageAt: 'pack-terminals',
  },
  boxOfModule: [],
  heat: {
    ambientC: 18,
    startC: 20,
    coreKelvinWatt: 0.06,
    plateKelvinWatt: 0.075,
    spread: 0.03,
    airKelvinWatt: 3.5,
    loops: [],
    flowWattKelvin: 350,
    sensorsPerModule: 2,
    sensorPlaces: ['cell', 'cell'],
    maxC: 55,
  },
  limits: { chargeA: 160, dischargeA: 360 },
  precharge: { resistorOhm: 56, linkFarad: 0.0012, bleedOhm: 30_000, readyPercent: 95 },
  pedal: { track1: [0.85, 4.1], track2: [0.42, 2.05], creepMaxNm: 22 },
  brake: {
    startBar: 3,
    fullBar: 26,
    maxNm: 78,
    liftNm: 10,
    fadeKmh: [4, 11],
    frictionNewtonBar: 110,
    zeroBar: 0.4,
  },
  road: {
    massKg: 1280,
    wheelRadiusM: 0.3,
    ratios: [8.6],
    dragAreaM2: 0.68,
    rolling: 0.0112,
    motorMaxNm: 190,
    motorMaxW: 90_000,
    slewNmS: 420,
    drivenAxle: 'rear',
  },
  functions: { cruise: false, creep: false, hold: false, shown: false, declared: false },
  auxiliaryW: 260,
}

/** The base with changes, section by section; boxes, loops and links follow from the modules unless given. */
export function makeBuild(changes: BuildChanges = {}): Build {
  const cells = { ...BASE.cells, ...changes.cells }
  const modules = cells.perModule.length
  const named = changes.boxOfModule ?? []
  const boxOfModule =
    named.length > 0 ? named : cells.perModule.map((_, m) => (m < modules / 2 ? 'front' : 'rear'))
  const links = { ...BASE.links, ...changes.links }
  const heat = { ...BASE.heat, ...changes.heat }
  return {
    ...BASE,
    ...changes,
    cells,
    boxOfModule,
    links: {
      ...links,
      special:
        links.special.length > 0 ? links.special : usualLinks(cells.perModule, boxOfModule, links.insideMohm),
    },
    heat: { ...heat, loops: heat.loops.length > 0 ? heat.loops : [cells.perModule.map((_, m) => m + 1)] },
    limits: { ...BASE.limits, ...changes.limits },
    precharge: { ...BASE.precharge, ...changes.precharge },
    pedal: { ...BASE.pedal, ...changes.pedal },
    brake: { ...BASE.brake, ...changes.brake },
    road: { ...BASE.road, ...changes.road },
    functions: { ...BASE.functions, ...changes.functions },
  }
}

/** Copper at 20 °C, Ω m (IEC 60028); mΩ of a length in m and a section in mm². */
export const copperMohm = (lengthM: number, sectionMm2: number): number =>
  (1.7241e-8 * lengthM * 1e9) / sectionMm2

/**
 * Module links of copper 0.35 m × 50 mm² with lugs, and a cable between boxes that is several times as long; both with
 * two crimped and bolted ends.
 */
export function usualLinks(
  perModule: readonly number[],
  boxOfModule: readonly string[],
  endMohm: number,
  module = { lengthM: 0.35, sectionMm2: 50 },
  cable = { lengthM: 1.6, sectionMm2: 50 },
): SpecialLink[] {
  const links: SpecialLink[] = []
  let last = 0
  for (let m = 0; m < perModule.length - 1; m++) {
    last += perModule[m]!
    const between = boxOfModule[m] !== boxOfModule[m + 1]
    const size = between ? cable : module
    links.push({
      afterCell: last,
      mohm: copperMohm(size.lengthM, size.sectionMm2) + endMohm,
      kind: between ? 'cable' : 'busbar',
      ...size,
    })
  }
  return links
}

export function cellsOf(build: Build): number {
  return build.cells.perModule.reduce((sum, count) => sum + count, 0)
}
