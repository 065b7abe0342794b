import { type Fault, faultsOf } from '../faults.ts'
import type { Random } from '../random.ts'
import { type Build, cellsOf } from './build.ts'
import { CHEMISTRIES, type Chemistry, entropyVoltKelvin, restVolt, Table, thermalVolt } from './chemistry.ts'
import { meanOf, SHELLS, Stepper } from './particle.ts'

/** Step of the cells, s. */
export const CELL_STEP_S = 0.1
/** Electrolyte's and foils' activation energy over the gas constant, K: own figure. */
const OHMIC_K = 1700

const warmth = (kelvin: number, celsius: number): number =>
  Math.exp(kelvin * (1 / (celsius + 273.15) - 1 / 298.15))

export interface FaultJoint {
  /** From 0: the reading that holds it. */
  readonly cell: number
  readonly ohm: number
  present(timeS: number): boolean
}

/**
 * Cells in series, each a single particle an electrode:
 *
 *     V = Up(θp at the surface) − Un(θn at the surface) − η − R I
 *     η = (2 R T / F) (asinh(I / 2 I0n) + asinh(I / 2 I0p)),   I0 = I0(½) · 2 √(θ (1 − θ)) · exp(−E (1/T − 1/298 K))
 *
 * I is the discharge current; diffusion in `particle.ts`. The two first terms (`inside`) are kept every 0.1 s, the rest
 * is worked out for the current of the very moment. Heat: I (U(mean) − V) − I T dU/dT.
 * Left out: double layer, electrolyte's own diffusion, hysteresis, change with age.
 */
export class ParticlePack {
  readonly chemistry: Chemistry
  readonly cells: number
  readonly moduleOf: Int32Array
  readonly ohmic: Float64Array
  readonly exchangeN: Float64Array
  readonly exchangeP: Float64Array
  readonly capacityAh: Float64Array
  readonly startSoc: Float64Array
  /** What the reading of a cell holds beside it, and what is in the path. Ohm. */
  readonly readOhm: Float64Array
  readonly pathOhm: Float64Array
  readonly faultJoints: readonly FaultJoint[]
  readonly inside: Float64Array
  /** Exchange currents now, A. */
  readonly nowN: Float64Array
  readonly nowP: Float64Array
  /** Heat of cells in each module over the last step, W. */
  readonly watt: Float64Array
  chemicalJ = 0
  cellHeatJ = 0
  reversibleJ = 0
  /** Per cell Σ I², Σ I · (ohmic and charge transfer), Σ I · (diffusion) over the drive. */
  readonly sums: readonly [Float64Array, Float64Array, Float64Array]
  private readonly shellsN: Float64Array
  private readonly shellsP: Float64Array
  private readonly surfaceN: Float64Array
  private readonly surfaceP: Float64Array
  private readonly tableN: Table
  private readonly tableP: Table
  private readonly drain: readonly { readonly cell: number; readonly amps: number }[]
  private steppersN: Stepper[] = []
  private steppersP: Stepper[] = []
  private readonly ohmicNow: Float64Array
  private readonly voltNow: Float64Array
  private readonly coreC: Float64Array
  movedAh = 0

  constructor(
    readonly build: Build,
    faults: readonly Fault[],
    random: Random,
  ) {
    const { cells: own, links } = build
    const chemistry = CHEMISTRIES[own.chemistry]
    this.chemistry = chemistry
    const n = cellsOf(build)
    this.cells = n
    const modules = own.perModule.length
    this.moduleOf = Int32Array.from(
      own.perModule.flatMap((count, m) => Array.from({ length: count }, () => m)),
    )
    const spread = (base: number, relative: number): Float64Array =>
      Float64Array.from({ length: n }, () => base * Math.max(0.6, 1 + relative * random.normal()))
    this.ohmic = spread(own.ohmicMohmAh / own.capacityAh / 1000, own.ohmicSpread)
    const exchange = own.kinetics * own.capacityAh
    this.exchangeN = spread(exchange * chemistry.negative.exchangePerAh, own.kineticSpread)
    this.exchangeP = spread(exchange * chemistry.positive.exchangePerAh, own.kineticSpread)
    this.capacityAh = spread(own.capacityAh, own.capacitySpread)
    this.startSoc = Float64Array.from({ length: n }, () => own.startSoc + own.socSpread * random.normal())
    for (const fault of faultsOf(faults, 'weak-cell')) {
      const k = fault.cell - 1
      const part = (fault as { part?: string }).part ?? 'both'
      if (part !== 'kinetics') this.ohmic[k]! *= fault.ratio
      if (part !== 'ohmic') this.exchangeN[k]! /= fault.ratio
      if (part !== 'ohmic') this.exchangeP[k]! /= fault.ratio
      this.capacityAh[k]! *= fault.capacity ?? 1
    }
    for (const { cell, missing } of faultsOf(faults, 'parallel-open')) {
      const left = (own.parallel - missing) / own.parallel
      this.ohmic[cell - 1]! /= left
      for (const part of [this.exchangeN, this.exchangeP, this.capacityAh]) part[cell - 1]! *= left
    }
    for (const { cell, soc } of faultsOf(faults, 'imbalance')) this.startSoc[cell - 1]! += soc
    this.pathOhm = new Float64Array(n)
    this.readOhm = new Float64Array(n)
    for (let k = 0; k < n - 1; k++) {
      const special = links.special.find((link) => link.afterCell === k + 1)
      const usual = k % 2 === 0 ? links.insideMohm : links.secondMohm
      const ohm = ((special?.mohm ?? usual) / 1000) * (1 + links.spread * random.normal())
      this.pathOhm[k] = ohm
      if (!special || links.specialRead) this.readOhm[links.readWith === 'lower' ? k : k + 1] = ohm
    }
    this.faultJoints = faultsOf(faults, 'joint').map((joint) => ({
      cell: joint.cell - 1,
      ohm: joint.ohm,
      present: (timeS) => {
        const fromS = joint.fromS ?? 0
        if (timeS < fromS || timeS >= (joint.toS ?? Number.POSITIVE_INFINITY)) return false
        if (joint.onS === undefined || joint.offS === undefined) return true
        return (timeS - fromS) % (joint.onS + joint.offS) < joint.onS
      },
    }))
    for (const { cell, ohm } of faultsOf(faults, 'tap-misplaced')) {
      this.readOhm[cell - 1]! -= ohm
      if (cell < n) this.readOhm[cell]! += ohm
    }
    this.drain = faults.flatMap((fault) => {
      const { kind, cell, amps } = fault as { kind: string; cell: number; amps: number }
      return kind === 'self-discharge' ? [{ cell: cell - 1, amps }] : []
    })
    const { negative, positive } = chemistry
    this.tableN = new Table(negative.potential)
    this.tableP = new Table(positive.potential)
    this.shellsN = new Float64Array(n * SHELLS)
    this.shellsP = new Float64Array(n * SHELLS)
    this.surfaceN = this.startSoc.map((soc) => negative.empty + soc * (negative.full - negative.empty))
    this.surfaceP = this.startSoc.map((soc) => positive.empty + soc * (positive.full - positive.empty))
    for (let k = 0; k < n; k++) {
      this.shellsN.fill(this.surfaceN[k]!, k * SHELLS, (k + 1) * SHELLS)
      this.shellsP.fill(this.surfaceP[k]!, k * SHELLS, (k + 1) * SHELLS)
    }
    this.inside = this.startSoc.map(
      (_, k) => this.tableP.at(this.surfaceP[k]!) - this.tableN.at(this.surfaceN[k]!),
    )
    this.nowN = new Float64Array(n)
    this.nowP = new Float64Array(n)
    this.ohmicNow = new Float64Array(n)
    this.voltNow = new Float64Array(modules)
    this.coreC = new Float64Array(modules)
    this.watt = new Float64Array(modules)
    this.sums = [new Float64Array(n), new Float64Array(n), new Float64Array(n)]
    this.warm(new Float64Array(modules).fill(build.heat.startC))
  }

  /** Takes the cores' temperatures; called every second or so. */
  warm(coreC: Float64Array): void {
    const { negative, positive } = this.chemistry
    const { diffusion } = this.build.cells
    this.coreC.set(coreC)
    this.steppersN = []
    this.steppersP = []
    const ohmic: number[] = []
    const kineticN: number[] = []
    const kineticP: number[] = []
    for (let m = 0; m < coreC.length; m++) {
      const celsius = coreC[m]!
      this.voltNow[m] = thermalVolt(celsius)
      const slower = warmth(negative.diffusionK, celsius) / diffusion
      this.steppersN.push(new Stepper(negative.diffusionS * slower, CELL_STEP_S))
      this.steppersP.push(new Stepper(positive.diffusionS * slower, CELL_STEP_S))
      ohmic.push(warmth(OHMIC_K, celsius))
      kineticN.push(1 / warmth(negative.kineticK, celsius))
      kineticP.push(1 / warmth(positive.kineticK, celsius))
    }
    for (let k = 0; k < this.cells; k++) {
      const m = this.moduleOf[k]!
      const n = Math.max(1e-4, Math.min(1 - 1e-4, this.surfaceN[k]!))
      const p = Math.max(1e-4, Math.min(1 - 1e-4, this.surfaceP[k]!))
      this.ohmicNow[k] = this.ohmic[k]! * ohmic[m]!
      this.nowN[k] = this.exchangeN[k]! * kineticN[m]! * 2 * Math.sqrt(n * (1 - n))
      this.nowP[k] = this.exchangeP[k]! * kineticP[m]! * 2 * Math.sqrt(p * (1 - p))
    }
  }

  ohmicOf(k: number): number {
    return this.ohmicNow[k]!
  }

  /** Charge transfer of cell k at a current, V. */
  kinetic(k: number, amps: number): number {
    return chargeTransfer(this.voltNow[this.moduleOf[k]!]!, this.nowN[k]!, this.nowP[k]!, amps)
  }

  /** One step with its mean current. */
  step(amps: number): void {
    const { negative, positive } = this.chemistry
    const perN = (negative.full - negative.empty) / (3 * 3600)
    const perP = (positive.full - positive.empty) / (3 * 3600)
    this.watt.fill(0)
    this.movedAh += (amps * CELL_STEP_S) / 3600
    const [squares, fast, slow] = this.sums
    for (let k = 0; k < this.cells; k++) {
      const m = this.moduleOf[k]!
      let own = amps
      for (const drain of this.drain) if (drain.cell === k) own += drain.amps
      const share = own / this.capacityAh[k]!
      this.surfaceN[k] = this.steppersN[m]!.step(this.shellsN, k * SHELLS, share * perN)
      this.surfaceP[k] = this.steppersP[m]!.step(this.shellsP, k * SHELLS, share * perP)
      const inside = this.tableP.at(this.surfaceP[k]!) - this.tableN.at(this.surfaceN[k]!)
      this.inside[k] = inside
      const immediate = this.kinetic(k, amps) + this.ohmicNow[k]! * amps
      const soc = this.startSoc[k]! - this.movedAh / this.capacityAh[k]!
      const rest =
        this.tableP.at(positive.empty + soc * (positive.full - positive.empty)) -
        this.tableN.at(negative.empty + soc * (negative.full - negative.empty))
      const lost = amps * (rest - inside + immediate)
      const reversible = -amps * (this.coreC[m]! + 273.15) * entropyVoltKelvin(soc)
      this.watt[m]! += lost + reversible
      this.chemicalJ += rest * amps * CELL_STEP_S
      this.cellHeatJ += lost * CELL_STEP_S
      this.reversibleJ += reversible * CELL_STEP_S
      squares[k]! += amps * amps
      fast[k]! += amps * immediate
      slow[k]! += amps * (rest - inside)
    }
  }

  /** Mean state of charge of a cell by the lithium in its negative particle: what the shells hold. */
  socOf(k: number): number {
    const { empty, full } = this.chemistry.negative
    return (meanOf(this.shellsN, k * SHELLS) - empty) / (full - empty)
  }

  restVoltOf(k: number): number {
    return restVolt(this.chemistry, this.startSoc[k]!)
  }
}

export function chargeTransfer(volt: number, exchangeN: number, exchangeP: number, amps: number): number {
  return 2 * volt * (Math.asinh(amps / (2 * exchangeN)) + Math.asinh(amps / (2 * exchangeP)))
}

/**
 * The pack as one source between two steps of the cells: V(I) = E − R I − Σ over modules of n · charge transfer at the
 * module's mean exchange currents.
 */
export class Source {
  emf = 0
  ohm = 0
  private readonly count: Float64Array
  private readonly meanN: Float64Array
  private readonly meanP: Float64Array
  private readonly volt: Float64Array

  constructor(private readonly pack: ParticlePack) {
    const modules = pack.build.cells.perModule.length
    this.count = Float64Array.from(pack.build.cells.perModule)
    this.meanN = new Float64Array(modules)
    this.meanP = new Float64Array(modules)
    this.volt = new Float64Array(modules)
  }

  warm(coreC: Float64Array): void {
    this.meanN.fill(0)
    this.meanP.fill(0)
    this.ohm = 0
    const { pack } = this
    for (let k = 0; k < pack.cells; k++) {
      const m = pack.moduleOf[k]!
      this.meanN[m]! += 1 / pack.nowN[k]!
      this.meanP[m]! += 1 / pack.nowP[k]!
      this.ohm += pack.ohmicOf(k) + pack.pathOhm[k]!
    }
    for (let m = 0; m < this.count.length; m++) {
      this.meanN[m] = this.count[m]! / this.meanN[m]!
      this.meanP[m] = this.count[m]! / this.meanP[m]!
      this.volt[m] = thermalVolt(coreC[m]!)
    }
  }

  renew(): void {
    this.emf = this.pack.inside.reduce((sum, volt) => sum + volt, 0)
  }

  /** Voltage at the cells' ends with a current. */
  at(amps: number, extraOhm: number): number {
    let lost = (this.ohm + extraOhm) * amps
    for (let m = 0; m < this.count.length; m++)
      lost += this.count[m]! * chargeTransfer(this.volt[m]!, this.meanN[m]!, this.meanP[m]!, amps)
    return this.emf - lost
  }

  /** Current that a load draws behind `pathOhm`; by Newton from `guess`. */
  currentFor(watt: number, extraOhm: number, guess: number): number {
    let amps = guess
    for (let turn = 0; turn < 4; turn++) {
      const volt = this.at(amps, extraOhm)
      let slope = this.ohm + extraOhm
      for (let m = 0; m < this.count.length; m++)
        slope +=
          this.count[m]! *
          2 *
          this.volt[m]! *
          (1 / Math.hypot(2 * this.meanN[m]!, amps) + 1 / Math.hypot(2 * this.meanP[m]!, amps))
      const by = (volt * amps - watt) / Math.max(1, volt - slope * amps)
      amps -= by
      if (Math.abs(by) < 1e-4) break
    }
    return amps
  }
}
