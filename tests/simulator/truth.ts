import { median } from '../../src/math/stats.ts'
import type { Fault } from './faults.ts'
import type { Ledger } from './ledger.ts'
import { arrhenius } from './pack.ts'
import type { RunawaySpell } from './runaway.ts'
import { STEP_S, type Trace } from './trace.ts'

/** One cell as it truly is, at the drive's mean temperature of its module. */
export interface CellTruth {
  readonly index: number
  readonly module: number
  /** The cell's own ohmic resistance, mΩ. */
  readonly ohmicMohm: number
  /** Both slow parts together, mΩ. */
  readonly slowMohm: number
  /** All that a reading adds to its cell (joint, busbar, long link, fault joint, misplaced tap), mΩ. */
  readonly readMohm: number
  /** Fault joint alone (all the time it is there), mΩ. */
  readonly faultJointMohm: number
  readonly capacityAh: number
  readonly startSoc: number
  /** Offset of the true cell voltage from the median at the start, at rest, leads' offsets included, mV. */
  readonly restOffsetMv: number
}

/** What is true of a simulated drive; the figures a review should find. */
export interface DriveTruth {
  readonly faults: readonly Fault[]
  readonly durationS: number
  readonly distanceKm: number
  readonly energyOutWh: number
  readonly energyInWh: number
  readonly ahOut: number
  readonly ahIn: number
  readonly ledger: Ledger
  readonly cells: readonly CellTruth[]
  /** Medians of all cells, mΩ: own ohmic, slow, what readings add. */
  readonly medianOhmicMohm: number
  readonly medianSlowMohm: number
  readonly medianReadMohm: number
  readonly modules: readonly {
    readonly index: number
    readonly coolingFactor: number
    readonly riseC: number
    readonly hottestC: number
  }[]
  /** Where the precharge ends if let run, percent of the pack, and its time constant. */
  readonly precharge: { readonly reachedPercent: number; readonly tauS: number; readonly loadOhm: number }
  readonly regen: {
    readonly startBar: number
    readonly fullBar: number
    readonly maxNm: number
    readonly fadeKmh: readonly [number, number]
    /** Share of the braking that a limit of the battery held back. */
    readonly limitedShare: number
  }
  /** One a turn of the key: when, whether the car became ready, and when that ended. */
  readonly starts: readonly {
    readonly keyOnS: number
    readonly keyOffS: number
    readonly readyS: number | null
    readonly lostS: number | null
  }[]
  /** When torque that nobody asked for was at work. */
  readonly runaways: readonly RunawaySpell[]
  readonly clocks: readonly { readonly box: string; readonly offsetS: number; readonly driftPpm: number }[]
}

export function truthOf(
  trace: Trace,
  restOffsetMv: Float64Array,
  precharge: { share: number; tauS: number; loadOhm: number },
  regenStartBar: number,
  clocks: DriveTruth['clocks'],
): DriveTruth {
  const { pack, car, ledger, faults } = trace
  const mean = trace.moduleC.map((celsius) => celsius.reduce((sum, c) => sum + c, 0) / celsius.length)
  const cells = Array.from({ length: pack.cells }, (_, k): CellTruth => {
    const celsius = mean[pack.moduleOf[k]!]!
    const faultJoint = pack.faultJoints
      .filter((joint) => joint.cell === k)
      .reduce((sum, joint) => sum + joint.ohm, 0)
    return {
      index: k + 1,
      module: pack.moduleOf[k]! + 1,
      ohmicMohm: 1000 * pack.ohmic[k]! * arrhenius(car.pack.ohmicArrheniusK, celsius),
      slowMohm: 1000 * (pack.slow1[k]! + pack.slow2[k]!) * arrhenius(car.pack.slowArrheniusK, celsius),
      readMohm: 1000 * (pack.readOhm[k]! + faultJoint),
      faultJointMohm: 1000 * faultJoint,
      capacityAh: pack.capacityAh[k]!,
      startSoc: pack.startSoc[k]!,
      restOffsetMv: restOffsetMv[k]!,
    }
  })
  const middle = (of: (cell: CellTruth) => number): number => median(cells.map(of))
  return {
    faults,
    durationS: (trace.length - 1) * STEP_S,
    distanceKm: ledger.distanceM / 1000,
    energyOutWh: ledger.outWh,
    energyInWh: ledger.inWh,
    ahOut: ledger.ahOut,
    ahIn: ledger.ahIn,
    ledger,
    cells,
    medianOhmicMohm: middle((cell) => cell.ohmicMohm),
    medianSlowMohm: middle((cell) => cell.slowMohm),
    medianReadMohm: middle((cell) => cell.readMohm),
    modules: trace.moduleC.map((celsius, m) => ({
      index: m + 1,
      coolingFactor: faults.reduce(
        (factor, fault) =>
          fault.kind === 'cooling' && fault.module === m + 1 ? factor * fault.factor : factor,
        1,
      ),
      riseC: Math.max(...celsius) - celsius[0]!,
      hottestC: Math.max(...celsius),
    })),
    precharge: { reachedPercent: 100 * precharge.share, tauS: precharge.tauS, loadOhm: precharge.loadOhm },
    regen: {
      startBar: regenStartBar,
      fullBar: car.brake.fullBar,
      maxNm: car.brake.maxNm,
      fadeKmh: car.brake.fadeKmh,
      limitedShare: ledger.brakingS > 0 ? ledger.limitedS / ledger.brakingS : 0,
    },
    starts: startsOf(trace),
    runaways: trace.runaways,
    clocks,
  }
}

function startsOf(trace: Trace): DriveTruth['starts'] {
  const { key_on, drive_ready } = trace.at
  const starts: { keyOnS: number; keyOffS: number; readyS: number | null; lostS: number | null }[] = []
  for (let i = 1; i < trace.length; i++) {
    const t = i * STEP_S
    if (key_on[i] === 1 && key_on[i - 1] === 0)
      starts.push({ keyOnS: t, keyOffS: t, readyS: null, lostS: null })
    const now = starts[starts.length - 1]
    if (!now) continue
    if (key_on[i] === 1) now.keyOffS = t
    if (drive_ready[i] === 1 && drive_ready[i - 1] === 0) now.readyS ??= t
    if (drive_ready[i] === 0 && drive_ready[i - 1] === 1 && key_on[i] === 1) now.lostS ??= t
  }
  return starts
}
