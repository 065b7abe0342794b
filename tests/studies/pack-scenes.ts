import { type Box, type BoxStyle, oneBox, USUAL_STYLE } from '../simulator/boxes.ts'
import type { CarChanges } from '../simulator/car.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import type { RouteOptions } from '../simulator/route.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'

/** Drives for the study of the pack: random cars, faults, duty and boxes by seed, and what a review should find. */
const STEPS_V = [0.001, 0.001, 0.0015, 0.002, 0.005, 0.01]
const RATES_HZ = [1, 2, 5, 10, 10, 20]
const ROUTES: readonly RouteOptions['kind'][] = ['urban', 'rural', 'mixed', 'mixed', 'hard', 'gentle']

/** What may be wrong; joints are the commonest. */
const KINDS = ['joint', 'joint', 'joint', 'weak', 'sense', 'tap', 'open', 'imbalance', 'two'] as const
export type SceneKind = (typeof KINDS)[number]

export interface Wanted {
  readonly kind: string
  readonly index: number
  /** In the finding's unit; null where the simulator has no single figure. */
  readonly value: number | null
}

export interface Scene {
  readonly made: Simulated
  readonly wanted: readonly Wanted[]
  readonly style: BoxStyle
  readonly what: string
}

const between = (random: Random, low: number, high: number): number => low + (high - low) * random.next()
const whole = (random: Random, low: number, high: number): number =>
  Math.floor(between(random, low, high + 1))
const oneOf = <T>(random: Random, all: readonly T[]): T => all[whole(random, 0, all.length - 1)]!

/** @param kinds to draw the fault from; each scene has one of them, where its car allows */
export function scene(seed: number, faulty: boolean, kinds: readonly SceneKind[] = KINDS): Scene {
  const random = new Random(seed)
  const modules = whole(random, 3, 9)
  const per = whole(random, 8, 16)
  const count = modules * per
  const lfp = random.next() < 0.3
  const balancing = random.next() < 0.3
  const cellHz = oneOf(random, RATES_HZ)
  const currentHz = oneOf(random, [cellHz, 10, 50])
  const style: BoxStyle = {
    ...plainStyle,
    cellHz,
    currentHz: Math.max(currentHz, cellHz),
    cellStepV: oneOf(random, STEPS_V),
    cellNoiseV: between(random, 0.0002, 0.001),
    scanS: between(random, 0, 0.5),
    cellFilterS: random.next() < 0.4 ? between(random, 0.05, 0.5) : 0,
    currentGain: between(random, -0.02, 0.02),
    currentOffsetA: between(random, -1.5, 1.5),
    held: random.next() < 0.4,
    vehicleHz: Math.max(10, cellHz),
  }
  const parallel = whole(random, 1, 4)
  const car: CarChanges = {
    pack: {
      cellsPerModule: Array.from({ length: modules }, () => per),
      parallel,
      chemistry: lfp ? 'lfp' : 'nmc',
      ...(lfp ? { voltMin: 2.5, voltMax: 3.65, ohmicMohm: between(random, 0.4, 0.9), capacityAh: 90 } : {}),
      ...(lfp ? {} : { ohmicMohm: between(random, 0.6, 1.6), capacityAh: between(random, 30, 80) }),
      startSoc: between(random, 0.35, 0.9),
      ohmicSpread: between(random, 0.015, 0.03),
      longLinkMohm: between(random, 0, 0.25),
      longLinksRead: random.next() < 0.7,
      jointReadWith: random.next() < 0.5 ? 'lower' : 'upper',
      balanceA: balancing ? 0.1 : 0,
    },
    heat: { startC: between(random, 5, 28), ambientC: between(random, 0, 28) },
  }
  const faults = faulty ? someFaults(random, kinds, count, parallel, lfp, per) : []
  const made = simulate({
    seed,
    car,
    boxes: (built) => withBalancing(oneBox(built, style), count, balancing),
    faults,
    route: {
      kind: oneOf(random, ROUTES),
      durationS: between(random, 300, 900),
      slopePercent: between(random, 0, 4),
    },
  })
  return {
    made,
    style,
    wanted: faults.map((fault) => wanted(fault, made)),
    what: `seed ${seed} ${lfp ? 'LFP' : 'NMC'} ${count} cells ${JSON.stringify(faults)} cells ${style.cellHz} Hz, current ${style.currentHz} Hz, step ${style.cellStepV * 1e3} mV, scan ${style.scanS.toFixed(2)}, filter ${style.cellFilterS.toFixed(2)}${balancing ? ', balancing' : ''}${style.held ? ', held' : ''}`,
  }
}

/** A battery unit that bleeds cells says which, twice a second. */
function withBalancing(boxes: readonly Box[], count: number, on: boolean): Box[] {
  const flags = Array.from({ length: count }, (_, k) => `balancing.${k + 1}`)
  return boxes.map((box) =>
    on ? { ...box, readings: [...box.readings, { channels: flags, rateHz: 2, node: 'battery' }] } : box,
  )
}

function someFaults(
  random: Random,
  kinds: readonly SceneKind[],
  count: number,
  parallel: number,
  lfp: boolean,
  per: number,
): Fault[] {
  const drawn = whole(random, 3, count - 4)
  // a link between boxes has no peers and is judged by heat and copper (contract, links without peers): not a joint here
  const border = per * Math.ceil(count / per / 2)
  const cell = drawn === border || drawn === border + 1 ? drawn + 2 : drawn
  const inside = cell % per === 0 ? cell - 1 : cell
  let kind = oneOf(random, kinds)
  // on the flat curve an offset says nothing about charge, and one cell of one in parallel cannot be open
  if (kind === 'imbalance' && lfp) kind = 'joint'
  if (kind === 'open' && parallel < 2) kind = 'weak'
  const joint = (at: number): Fault => ({ kind: 'joint', cell: at, ohm: between(random, 0.25, 1.2) / 1000 })
  switch (kind) {
    case 'joint':
      return [joint(cell)]
    case 'weak':
      return [
        { kind: 'weak-cell', cell, ratio: between(random, 1.4, 2.2), capacity: between(random, 0.85, 1) },
      ]
    case 'sense': {
      const volt = between(random, 0.012, 0.03) * (random.next() < 0.5 ? -1 : 1)
      return [{ kind: 'sense-lead', cell, volt }]
    }
    case 'tap':
      return [{ kind: 'tap-misplaced', cell: inside, ohm: between(random, 0.25, 0.5) / 1000 }]
    case 'open':
      return [{ kind: 'parallel-open', cell, missing: 1 }]
    case 'imbalance':
      return [{ kind: 'imbalance', cell, soc: between(random, 0.025, 0.06) * (random.next() < 0.5 ? -1 : 1) }]
    case 'two':
      return [
        joint(cell),
        random.next() < 0.5
          ? joint(cell + 1)
          : { kind: 'weak-cell', cell: cell + 1, ratio: between(random, 1.5, 2), capacity: 0.95 },
      ]
  }
}

function wanted(fault: Fault, made: Simulated): Wanted {
  const { truth } = made
  switch (fault.kind) {
    case 'joint':
      return { kind: 'joint-resistance-high', index: fault.cell, value: fault.ohm * 1e3 }
    case 'weak-cell':
      return {
        kind: 'cell-weak',
        index: fault.cell,
        value: truth.cells[fault.cell - 1]!.ohmicMohm / truth.medianOhmicMohm,
      }
    case 'sense-lead':
      return { kind: 'sense-lead-offset', index: fault.cell, value: fault.volt * 1e3 }
    case 'tap-misplaced':
      // the cell that reads better comes first: taps move resistance to the next cell
      return { kind: 'sense-tap-misplaced', index: fault.cell, value: fault.ohm * 1e3 }
    case 'parallel-open':
      return { kind: 'parallel-cell-open', index: fault.cell, value: fault.missing }
    case 'imbalance':
      return {
        kind: 'cell-imbalance',
        index: fault.cell,
        value: truth.cells[fault.cell - 1]!.restOffsetMv,
      }
    default:
      throw new Error(`no expectation for ${fault.kind}`)
  }
}

const plainStyle = {
  ...USUAL_STYLE,
  currentStepA: 0.1,
  currentNoiseA: 0.25,
  currentClip: [-500, 500] as const,
  unsigned: false,
  turned: false,
  temperatureStepC: 0.5,
  temperatureHz: 1,
  switchHz: 10,
  switchesOnChange: false,
}
