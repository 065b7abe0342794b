import { type Car, cellCount, longLinkCells, moduleOfCells } from './car.ts'
import { type Fault, faultsOf } from './faults.ts'
import { openCircuitVolt } from './open-circuit.ts'
import type { Random } from './random.ts'

/**
 * The cells in series. Terminal voltage of cell k at discharge current I (A, discharge positive):
 *
 *     V_k = U(s_k) − f0(T) R0_k I − f1(T) (R1_k x1 + R2_k x2)
 *     ds_k/dt = −I / (3600 C_k)          U: open-circuit-volt.ts
 *     dx_i/dt = (I − x_i) / τ_i          one filtered current a slow part, the same τ for all cells
 *     f(T) = exp(E (1/T − 1/298.15 K))   T: the cell's module
 *
 * so a slow part is a resistor R_i with a capacitor τ_i / R_i across it. What a reading adds to its cell: the joint
 * and busbar beside it (`readOhm`), a sense lead's offset, a misplaced tap. Because x1, x2 and the charge are common
 * to all cells, a cell's voltage is worked out only where a box samples it, exactly.
 */
export interface Pack {
  readonly cells: number
  readonly moduleOf: Int32Array
  /** Ohm at 25 °C. */
  readonly ohmic: Float64Array
  readonly slow1: Float64Array
  readonly slow2: Float64Array
  readonly capacityAh: Float64Array
  readonly startSoc: Float64Array
  /** Constant ohms of the joint, busbar and longer link read with each cell (misplaced taps included). */
  readonly readOhm: Float64Array
  /** The same without misplaced taps: what is truly in the path. */
  readonly linkOhm: Float64Array
  /** Ohms of fault joints; they come and go by `jointPresent`. */
  readonly faultJoints: readonly {
    readonly cell: number
    readonly ohm: number
    present(timeS: number): boolean
  }[]
  /** A that each cell loses inside. */
  readonly drainA: Float64Array
  /** Cells being bled in even and odd turns (0-based), by state of charge at the start. */
  readonly bled: readonly Uint8Array[]
}

export function makePack(car: Car, faults: readonly Fault[], random: Random): Pack {
  const { pack } = car
  const cells = cellCount(car)
  const spread = (base: number, relative: number): Float64Array =>
    Float64Array.from({ length: cells }, () => base * Math.max(0.5, 1 + relative * random.normal()))
  const ohmic = spread(pack.ohmicMohm / 1000, pack.ohmicSpread)
  // Slow parts of one cell rise and fall with its ohmic part to a half, for the rest on their own.
  const slow1 = ohmic.map(
    (own) =>
      (own / (pack.ohmicMohm / 1000)) ** 0.5 *
      (pack.slowMohm[0] / 1000) *
      (1 + pack.slowSpread * random.normal()),
  )
  const slow2 = slow1.map(
    (own) => (own / (pack.slowMohm[0] / 1000)) * (pack.slowMohm[1] / 1000) * (1 + 0.01 * random.normal()),
  )
  const capacityAh = spread(pack.capacityAh, pack.capacitySpread)
  const startSoc = Float64Array.from(
    { length: cells },
    () => pack.startSoc + pack.socSpread * random.normal(),
  )
  const linkOhm = spread(pack.jointMohm / 1000, pack.jointSpread)
  if (pack.longLinksRead)
    for (const cell of longLinkCells(car))
      linkOhm[pack.jointReadWith === 'lower' ? cell - 1 : cell]! += pack.longLinkMohm / 1000
  for (const { cell, ratio, capacity } of faultsOf(faults, 'weak-cell')) {
    for (const part of [ohmic, slow1, slow2]) part[cell - 1]! *= ratio
    capacityAh[cell - 1]! *= capacity ?? 1
  }
  for (const { cell, missing } of faultsOf(faults, 'parallel-open')) {
    const left = (pack.parallel - missing) / pack.parallel
    for (const part of [ohmic, slow1, slow2]) part[cell - 1]! /= left
    capacityAh[cell - 1]! *= left
  }
  for (const { cell, soc } of faultsOf(faults, 'imbalance')) startSoc[cell - 1]! += soc
  const readOhm = linkOhm.slice()
  for (const { cell, ohm } of faultsOf(faults, 'tap-misplaced')) {
    readOhm[cell - 1]! -= ohm
    if (cell < cells) readOhm[cell]! += ohm
  }
  const drainA = new Float64Array(cells)
  for (const { cell, amps } of faultsOf(faults, 'self-discharge')) drainA[cell - 1]! += amps
  const faultJoints = faultsOf(faults, 'joint').map((joint) => ({
    cell: joint.cell - 1,
    ohm: joint.ohm,
    present: (timeS: number): boolean => {
      const fromS = joint.fromS ?? 0
      if (timeS < fromS || timeS >= (joint.toS ?? Number.POSITIVE_INFINITY)) return false
      return joint.onS === undefined || joint.offS === undefined
        ? true
        : (timeS - fromS) % (joint.onS + joint.offS) < joint.onS
    },
  }))
  return {
    cells,
    moduleOf: moduleOfCells(car),
    ohmic,
    slow1,
    slow2,
    capacityAh,
    startSoc,
    readOhm,
    linkOhm,
    faultJoints,
    drainA,
    bled: bledCells(startSoc, pack.balanceA > 0),
  }
}

/** The fifth of the cells with the most charge, in two turns so that neighbours are not bled together. */
function bledCells(startSoc: Float64Array, on: boolean): Uint8Array[] {
  const limit = startSoc.slice().sort()[Math.floor(startSoc.length * 0.8)]!
  return [0, 1].map((turn) =>
    Uint8Array.from(startSoc, (soc, k) => (on && soc >= limit && k % 2 === turn ? 1 : 0)),
  )
}

export function arrhenius(kelvinE: number, celsius: number): number {
  return Math.exp(kelvinE * (1 / (celsius + 273.15) - 1 / 298.15))
}

/** Sum of the open-circuit voltages after `dischargedAh` and `timeS`, and its slope per Ah. */
export function sumOpenCircuit(car: Car, pack: Pack, dischargedAh: number, timeS: number): number {
  let sum = 0
  for (let k = 0; k < pack.cells; k++)
    sum += openCircuitVolt(
      car.pack.chemistry,
      pack.startSoc[k]! - (dischargedAh + (pack.drainA[k]! * timeS) / 3600) / pack.capacityAh[k]!,
    )
  return sum
}
