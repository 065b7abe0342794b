import type { Fault } from '../faults.ts'
import { Random } from '../random.ts'
import { type Build, type BuildChanges, makeBuild, usualLinks } from './build.ts'
import type { RoadOptions } from './road.ts'
import type { SecondStyle } from './second-boxes.ts'
import type { SecondOptions } from './simulate-second.ts'

export interface SecondCaseOptions {
  readonly seed: number
  readonly faults?: (build: Build, random: Random) => readonly Fault[]
  readonly durationS?: readonly [number, number]
  readonly road?: Partial<RoadOptions>
  readonly build?: BuildChanges
  readonly style?: Partial<SecondStyle>
}

/** Cars, duties and boxes of the second model as different as workshops see them. Same options, same drive. */
export function secondCase(options: SecondCaseOptions): SecondOptions {
  const random = new Random(options.seed).fork('second case')
  const build = randomBuild(random.fork('build'), options.build)
  const duty = random.fork('duty')
  const faults = options.faults?.(makeBuild(build), random.fork('faults')) ?? []
  return {
    seed: options.seed,
    build,
    faults,
    style: { ...randomSecondStyle(random.fork('style')), ...options.style },
    road: {
      durationS: duty.between(...(options.durationS ?? [300, 620])),
      phases: duty.pick([
        [0, 1],
        [0, 1, 2],
        [1, 2],
        [0, 1, 2, 3],
      ]),
      slopePercent: duty.pick([0, 2, 4, 7]),
      haste: duty.between(0.8, 1.5),
      ...options.road,
    },
    run: { keyOnS: duty.between(3, 12), restS: duty.between(15, 60) },
  }
}

export function randomBuild(random: Random, changes: BuildChanges = {}): BuildChanges {
  const lfp = random.chance(0.35)
  const boxes = random.whole(1, 3)
  const modules = Math.max(boxes * 2, random.whole(4, 9))
  const size = random.pick([8, 10, 12, 14, 16])
  const perModule = Array.from({ length: modules }, () => size)
  const names = ['front', 'middle', 'rear']
  const boxOfModule = perModule.map((_, m) => names[Math.floor((m * boxes) / modules)]!)
  const capacityAh = random.between(40, lfp ? 150 : 90)
  const insideMohm = random.between(0.015, 0.045)
  const cells = modules * size
  const most = Math.min(capacityAh * random.between(2.2, 3.4), 340)
  const motorMaxW = Math.max(22_000, Math.min(150_000, cells * (lfp ? 3 : 3.4) * most))
  const massKg = Math.max(650, Math.min(2100, 420 + motorMaxW / random.between(70, 110)))
  const startBar = random.between(1.5, 4.5)
  const gearbox = random.chance(0.25)
  const ambientC = random.between(3, 30)
  const alternating = random.chance(0.4)
  const plates = random.chance(0.5)
  const whole = random.between(7, 10)
  return {
    name: `Second ${modules} × ${size}`,
    cells: {
      chemistry: lfp ? 'lfp' : 'nmc',
      perModule,
      parallel: random.whole(1, 4),
      capacityAh,
      startSoc: random.between(0.42, 0.82),
      ohmicMohmAh: random.between(30, 55),
      kinetics: random.between(1.2, 3),
      diffusion: random.between(1, 2.6),
      ohmicSpread: random.between(0.012, 0.025),
      kineticSpread: random.between(0.015, 0.03),
      capacitySpread: random.between(0.004, 0.009),
      socSpread: random.between(0.0003, 0.0009),
      ...changes.cells,
    },
    links: {
      insideMohm,
      secondMohm: alternating ? insideMohm * random.between(1.4, 2) : insideMohm,
      special: usualLinks(
        perModule,
        boxOfModule,
        insideMohm,
        { lengthM: random.between(0.2, 0.5), sectionMm2: random.pick([50, 70]) },
        { lengthM: random.between(0.8, 2.6), sectionMm2: random.pick([50, 70]) },
      ),
      readWith: random.pick(['lower', 'upper']),
      specialRead: random.chance(0.8),
      pathMohm: random.between(1, 3),
      packVoltageAt: random.pick(['cells', 'pack-terminals', 'after-contactors']),
      ...changes.links,
    },
    boxOfModule,
    heat: {
      ambientC,
      startC: Math.max(8, ambientC + random.between(-2, 6)),
      coreKelvinWatt: random.between(0.04, 0.08),
      plateKelvinWatt: random.between(0.05, 0.1),
      loops: plates
        ? names.slice(0, boxes).map((name) => boxOfModule.flatMap((box, m) => (box === name ? [m + 1] : [])))
        : [],
      flowWattKelvin: random.between(180, 420),
      sensorsPerModule: random.pick([1, 2, 2, 3]),
      ...changes.heat,
    },
    limits: { dischargeA: Math.round(most * 1.15), ...changes.limits },
    precharge: {
      resistorOhm: random.between(30, 150),
      linkFarad: random.between(0.0006, 0.0018),
      ...changes.precharge,
    },
    pedal: {
      ...(random.chance(0.5) ? { track2: [random.between(3.9, 4.4), random.between(0.6, 1)] as const } : {}),
      creepMaxNm: random.between(14, 26),
      ...changes.pedal,
    },
    brake: {
      startBar,
      fullBar: startBar + random.between(16, 30),
      maxNm: random.between(40, 100),
      liftNm: random.pick([0, 5, 10, 14]),
      ...changes.brake,
    },
    road: {
      massKg,
      ratios: gearbox ? [2.1, 1.35, 0.98].map((ratio) => ratio * 4.1) : [whole],
      motorMaxNm: Math.min(250, motorMaxW / 420),
      motorMaxW,
      slewNmS: random.between(250, 900),
      ...changes.road,
    },
    functions: {
      cruise: random.chance(0.35),
      creep: random.chance(0.35),
      hold: random.chance(0.3),
      shown: random.chance(0.5),
      declared: random.chance(0.5),
      ...changes.functions,
    },
  }
}

/** The current sensor's gain is drawn from the tolerance that enters the intervals (2 %, taken as two standard errors). */
export function randomSecondStyle(random: Random): Partial<SecondStyle> {
  const cellHz = random.pick([1, 2, 5, 10, 10, 10, 20])
  return {
    cellHz,
    vehicleHz: random.pick([10, 20, 20, 50]),
    currentHz: Math.max(cellHz, random.pick([10, 20, 50])),
    scanS: random.pick([0, 0.03, 0.08, 0.2, 0.5]),
    averageS: random.pick([0, 0, 0.02, 0.1]),
    cellStepV: random.pick([0.001, 0.001, 0.001, 0.002, 0.005]),
    cellNoiseV: random.between(0.0004, 0.0013),
    currentStepA: random.pick([0.1, 0.1, 0.25, 1]),
    currentNoiseA: random.between(0.1, 0.6),
    currentGain: Math.max(-0.02, Math.min(0.02, 0.01 * random.normal())),
    currentOffsetA: 0.4 * random.normal(),
    currentLagS: random.pick([0, 0.02, 0.04, 0.1, 0.2]),
    temperatureStepC: random.pick([0.1, 0.5, 1]),
    switchHz: random.pick([5, 10, 20]),
    held: random.chance(0.3),
    wakesAtS: random.chance(0.25) ? [0] : [],
  }
}
