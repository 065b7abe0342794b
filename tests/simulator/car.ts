import type { ControllerMap } from './controller-map.ts'
import type { Chemistry } from './open-circuit.ts'

/**
 * A car as built: every figure the physics uses. Own figures of an invented small conversion; ohms in mΩ at 25 °C
 * for one cell group (parallel cells together).
 */
export interface Car {
  readonly name: string
  readonly pack: {
    readonly cellsPerModule: readonly number[]
    readonly parallel: number
    readonly chemistry: Chemistry
    readonly capacityAh: number
    readonly startSoc: number
    readonly ohmicMohm: number
    /** Slow (polarisation) resistances and their time constants. */
    readonly slowMohm: readonly [number, number]
    readonly slowS: readonly [number, number]
    /** Arrhenius: R(T) = R(25 °C) · exp(E (1/T − 1/298.15 K)), E in kelvin, for the ohmic and the slow parts. */
    readonly ohmicArrheniusK: number
    readonly slowArrheniusK: number
    /** Relative robust spread of healthy cells (standard deviation). */
    readonly ohmicSpread: number
    readonly slowSpread: number
    readonly capacitySpread: number
    /** Spread of the state of charge, absolute (0.001 = a tenth of a point). */
    readonly socSpread: number
    /** Busbar and joint in every reading, and its relative spread. */
    readonly jointMohm: number
    readonly jointSpread: number
    /** Extra of the longer link after each module's last cell (within a box) and whether any reading holds it. */
    readonly longLinkMohm: number
    readonly longLinksRead: boolean
    readonly jointReadWith: 'lower' | 'upper'
    /** Fuse, service plug, terminals, contactors together. */
    readonly pathMohm: number
    readonly packVoltageAt: 'cells' | 'pack-terminals' | 'after-contactors'
    readonly boxOfModule: readonly string[]
    readonly voltMin: number
    readonly voltMax: number
    readonly chargeLimitA: number
    readonly dischargeLimitA: number
    /** Bleeding while awake: the highest cells, in turns of `turnS`; 0 A = none. `leadOhm` a sense lead. */
    readonly balanceA: number
    readonly balanceTurnS: number
    readonly leadOhm: number
  }
  readonly heat: {
    readonly ambientC: number
    /** Pack's temperature at the start. */
    readonly startC: number
    readonly moduleJouleKelvin: number
    /** To the coolant, K/W a module, and its spread. */
    readonly moduleKelvinWatt: number
    readonly coolingSpread: number
    /** To the air, K/W a module. */
    readonly airKelvinWatt: number
    /** End modules lose this many times more to the air. */
    readonly endModuleFactor: number
    /** Lists of modules, upstream first; each loop has the same flow. */
    readonly coolingOrder: readonly (readonly number[])[]
    /** Watts the flow of one loop carries per kelvin. */
    readonly flowWattKelvin: number
    readonly sensorsPerModule: number
    readonly sensorPlaces: readonly ('cell' | 'busbar' | 'plate' | 'air')[]
    readonly maxC: number
  }
  readonly precharge: {
    readonly resistorOhm: number
    readonly linkFarad: number
    readonly bleedOhm: number
    readonly readyPercent: number
    readonly timeoutS: number
    readonly layout: 'positive' | 'negative'
  }
  readonly pedal: {
    readonly track1: readonly [number, number]
    readonly track2: readonly [number, number]
    readonly noiseV: number
    /** Play of the linkage between the tracks, points of travel. */
    readonly hysteresisPoints: number
  }
  readonly brake: {
    readonly startBar: number
    readonly fullBar: number
    readonly maxNm: number
    readonly liftNm: number
    readonly fadeKmh: readonly [number, number]
    readonly delayS: number
    readonly filterS: number
    readonly frictionNewtonBar: number
    /** Pressure that the pads need before they bite. */
    readonly biteBar: number
    readonly switchBar: number
    readonly sensorZeroBar: number
    /** How the controller departs from a plain ramp; none: it does not. */
    readonly map?: ControllerMap
  }
  readonly road: {
    readonly massKg: number
    readonly wheelRadiusM: number
    readonly gear: number
    readonly dragAreaM2: number
    readonly rolling: number
    readonly motorMaxNm: number
    readonly motorMaxW: number
    /** Share of the torque that reaches the wheels. */
    readonly driveline: number
    readonly drivenAxle: 'front' | 'rear'
  }
  readonly lv: {
    readonly restV: number
    readonly chargingV: number
    readonly loadA: number
    readonly minV: number
  }
  readonly isolation: {
    readonly kohm: number
    readonly startUpS: number
    readonly settleS: number
    readonly ceilingKohm: number
  }
  readonly auxiliaryW: number
  /** Cabin heater on the link while the car is on. */
  readonly heaterW: number
}

export type CarChanges = { readonly [K in keyof Car]?: Car[K] extends object ? Partial<Car[K]> : Car[K] }

const BASE: Car = {
  name: 'Test build',
  pack: {
    cellsPerModule: [12, 12, 12, 12, 12, 12, 12, 12],
    parallel: 2,
    chemistry: 'nmc',
    capacityAh: 55,
    startSoc: 0.78,
    ohmicMohm: 1.05,
    slowMohm: [0.42, 0.55],
    slowS: [24, 270],
    ohmicArrheniusK: 2200,
    slowArrheniusK: 4300,
    ohmicSpread: 0.024,
    slowSpread: 0.03,
    capacitySpread: 0.008,
    socSpread: 0.0008,
    jointMohm: 0.025,
    jointSpread: 0.15,
    longLinkMohm: 0.09,
    longLinksRead: true,
    jointReadWith: 'lower',
    pathMohm: 1.8,
    packVoltageAt: 'pack-terminals',
    boxOfModule: [],
    voltMin: 2.9,
    voltMax: 4.2,
    chargeLimitA: 160,
    dischargeLimitA: 340,
    balanceA: 0,
    balanceTurnS: 20,
    leadOhm: 0.03,
  },
  heat: {
    ambientC: 16,
    startC: 18,
    moduleJouleKelvin: 13500,
    moduleKelvinWatt: 0.11,
    coolingSpread: 0.05,
    airKelvinWatt: 3,
    endModuleFactor: 1.6,
    coolingOrder: [[1, 2, 3, 4, 5, 6, 7, 8]],
    flowWattKelvin: 420,
    sensorsPerModule: 2,
    sensorPlaces: ['cell', 'cell'],
    maxC: 55,
  },
  precharge: {
    resistorOhm: 100,
    linkFarad: 0.0009,
    bleedOhm: 22000,
    readyPercent: 95,
    timeoutS: 2.5,
    layout: 'positive',
  },
  pedal: { track1: [0.72, 3.96], track2: [4.21, 0.93], noiseV: 0.004, hysteresisPoints: 0.6 },
  brake: {
    startBar: 2.5,
    fullBar: 24,
    maxNm: 82,
    liftNm: 9,
    fadeKmh: [5, 13],
    delayS: 0.05,
    filterS: 0.08,
    frictionNewtonBar: 118,
    biteBar: 1,
    switchBar: 1.6,
    sensorZeroBar: 0.3,
  },
  road: {
    massKg: 1340,
    wheelRadiusM: 0.297,
    gear: 9.1,
    dragAreaM2: 0.69,
    rolling: 0.0115,
    motorMaxNm: 175,
    motorMaxW: 88000,
    driveline: 0.965,
    drivenAxle: 'rear',
  },
  lv: { restV: 12.55, chargingV: 13.85, loadA: 11, minV: 10 },
  isolation: { kohm: 3200, startUpS: 2.5, settleS: 0.9, ceilingKohm: 10000 },
  auxiliaryW: 240,
  heaterW: 0,
}

/** The base car with changes, section by section; what hangs on the number of modules follows unless given. */
export function makeCar(changes: CarChanges = {}): Car {
  const pack = { ...BASE.pack, ...(changes.pack?.chemistry === 'lfp' ? LFP : {}), ...changes.pack }
  const modules = pack.cellsPerModule.length
  const heat = {
    ...BASE.heat,
    coolingOrder: [Array.from({ length: modules }, (_, m) => m + 1)],
    ...changes.heat,
  }
  return {
    ...BASE,
    ...changes,
    pack: { ...pack, boxOfModule: pack.boxOfModule.length > 0 ? pack.boxOfModule : boxes(modules) },
    heat,
    precharge: { ...BASE.precharge, ...changes.precharge },
    pedal: { ...BASE.pedal, ...changes.pedal },
    brake: { ...BASE.brake, ...changes.brake },
    road: { ...BASE.road, ...changes.road },
    lv: { ...BASE.lv, ...changes.lv },
    isolation: { ...BASE.isolation, ...changes.isolation },
  }
}

const LFP = { chemistry: 'lfp' as const, voltMin: 2.5, voltMax: 3.65, ohmicMohm: 0.75, capacityAh: 90 }

function boxes(modules: number): string[] {
  return Array.from({ length: modules }, (_, m) => (m < modules / 2 ? 'front' : 'rear'))
}

export function cellCount(car: Car): number {
  return car.pack.cellsPerModule.reduce((sum, cells) => sum + cells, 0)
}

/** 0-based module of each 0-based cell. */
export function moduleOfCells(car: Car): Int32Array {
  return Int32Array.from(
    car.pack.cellsPerModule.flatMap((cells, m) => Array.from({ length: cells }, () => m)),
  )
}

/** Cells (from 1) that a longer link follows: the last of each module but the pack's last. */
export function longLinkCells(car: Car): number[] {
  const ends: number[] = []
  let last = 0
  for (const cells of car.pack.cellsPerModule) ends.push((last += cells))
  return ends.slice(0, -1)
}
