import type { BoxStyle } from './boxes.ts'
import { type Car, type CarChanges, cellCount, makeCar } from './car.ts'
import type { Fault } from './faults.ts'
import { Random } from './random.ts'
import type { SimulateOptions } from './simulate.ts'

/** Cars, duties and boxes as different as workshops see them, by seed; for studies over many drives. */
export interface CaseOptions {
  readonly seed: number
  /** The faults to put in, given the car; default none. */
  readonly faults?: (car: Car, random: Random) => readonly Fault[]
  readonly durationS?: readonly [number, number]
  /** Changes on top of the random car and boxes. */
  readonly car?: CarChanges
  readonly style?: Partial<BoxStyle>
  readonly kind?: 'urban' | 'rural' | 'mixed' | 'gentle' | 'hard'
}

/** A random drive. Same options, same drive. */
export function randomCase(options: CaseOptions): SimulateOptions {
  const random = new Random(options.seed).fork('case')
  const car = randomCar(random.fork('car'), options.car)
  const style = { ...randomStyle(random.fork('style')), ...options.style }
  const duty = random.fork('duty')
  const faults = options.faults?.(makeCar(car), random.fork('faults')) ?? []
  return {
    seed: options.seed,
    car,
    style,
    faults,
    route: {
      kind: options.kind ?? duty.pick(['urban', 'mixed', 'mixed', 'rural']),
      durationS: duty.between(...(options.durationS ?? [280, 620])),
      slopePercent: duty.pick([0, 0, 2, 4]),
    },
    driver: { restS: duty.between(12, 60), keyOnS: duty.between(3, 12) },
  }
}

export function randomCar(random: Random, changes: CarChanges = {}): CarChanges {
  const lfp = random.chance(0.3)
  const modules = random.whole(5, 11)
  const even = random.chance(0.75)
  const size = random.pick([8, 10, 12, 14, 16])
  const cellsPerModule = Array.from({ length: modules }, () =>
    even ? size : size + random.pick([-2, 0, 0, 2]),
  )
  const capacityAh = random.between(38, lfp ? 160 : 90)
  // Bigger cells have less resistance: own rule of thumb, 55 Ah · 1 mΩ.
  const ohmicMohm = (55 / capacityAh) * random.between(0.75, 1.35)
  const mirrored = random.chance(0.7)
  const released = random.between(mirrored ? 0.45 : 0.75, 1)
  const pressed = random.between(3.4, 4.4)
  const startBar = random.between(1.2, 4)
  const ambientC = random.between(4, 30)
  const kilowatt =
    cellsPerModule.reduce((sum, n) => sum + n, 0) * (capacityAh / 55) * random.between(0.75, 1.4)
  const maxNm = random.between(45, 110)
  return {
    name: `Random ${modules} × ${size}`,
    pack: {
      chemistry: lfp ? 'lfp' : 'nmc',
      cellsPerModule,
      capacityAh,
      ohmicMohm,
      slowMohm: [ohmicMohm * random.between(0.3, 0.55), ohmicMohm * random.between(0.4, 0.7)],
      slowS: [random.between(12, 45), random.between(150, 420)],
      ohmicSpread: random.between(0.015, 0.028),
      slowSpread: random.between(0.02, 0.035),
      socSpread: random.between(0.0003, 0.0009),
      startSoc: random.between(0.45, 0.78),
      jointMohm: random.between(0.01, 0.04),
      longLinkMohm: random.between(0.04, 0.2),
      longLinksRead: random.chance(0.7),
      jointReadWith: random.pick(['lower', 'upper']),
      packVoltageAt: random.pick(['cells', 'pack-terminals', 'after-contactors']),
      pathMohm: random.between(1, 2.6),
      balanceA: random.chance(0.3) ? random.between(0.05, 0.15) : 0,
      parallel: random.whole(1, 4),
      ...changes.pack,
    },
    heat: {
      ambientC,
      startC: Math.max(11, ambientC + random.between(-2, 6)),
      sensorsPerModule: random.pick([1, 2, 2, 3]),
      ...changes.heat,
    },
    precharge: {
      resistorOhm: random.between(40, 220),
      linkFarad: random.between(0.0005, 0.0016),
      ...changes.precharge,
    },
    pedal: {
      track1: [released, pressed],
      track2: mirrored ? [random.between(3.9, 4.5), random.between(0.5, 1)] : [released / 2, pressed / 2],
      ...changes.pedal,
    },
    brake: {
      startBar,
      fullBar: startBar + random.between(14, 28),
      maxNm,
      liftNm: random.pick([0, 6, 12]),
      fadeKmh: [random.between(3, 7), random.between(10, 18)],
      ...changes.brake,
    },
    road: {
      massKg: Math.min(2100, Math.max(780, 650 + 9 * kilowatt * random.between(0.6, 1.2))),
      gear: random.between(7, 11),
      motorMaxNm: random.between(130, 240),
      motorMaxW: 1000 * Math.max(45, Math.min(150, kilowatt)),
      ...changes.road,
    },
    ...(changes.lv ? { lv: changes.lv } : {}),
    ...(changes.isolation ? { isolation: changes.isolation } : {}),
  }
}

export function randomStyle(random: Random): Partial<BoxStyle> {
  const cellHz = random.pick([1, 2, 5, 10, 10, 10, 20])
  const vehicleHz = random.pick([10, 20, 50, 100])
  return {
    cellHz,
    vehicleHz,
    currentHz: Math.max(cellHz, random.pick([10, 20, 50])),
    scanS: random.pick([0, 0.02, 0.05, 0.1, 0.2, 0.5]) * Math.min(1, 1 / cellHz / 0.5),
    cellFilterS: random.pick([0, 0, 0.05, 0.2]),
    cellStepV: random.pick([0.001, 0.001, 0.001, 0.002, 0.005]),
    cellNoiseV: random.between(0.0003, 0.0012),
    currentStepA: random.pick([0.1, 0.1, 0.5, 1]),
    currentNoiseA: random.between(0.1, 0.6),
    currentGain: 0.008 * random.normal(),
    currentOffsetA: 0.4 * random.normal(),
    temperatureStepC: random.pick([0.1, 0.5, 1]),
    switchHz: random.pick([5, 10, 20]),
    switchesOnChange: random.chance(0.2),
    held: random.chance(0.3),
  }
}

/** A cell (from 1) that is not at the pack's ends, so that every kind of fault has both neighbours. */
export function someCell(car: Car, random: Random): number {
  return random.whole(2, cellCount(car) - 1)
}
