import { catalogueEntry } from '../../../shared/channels.ts'
import { median } from '../../../src/math/stats.ts'
import { active, type Fault, faultsOf } from '../faults.ts'
import type { Measurable } from '../measure.ts'
import type { Random } from '../random.ts'
import type { DriveTruth } from '../truth.ts'
import { thermalVolt } from './chemistry.ts'
import { CELL_STEP_S, chargeTransfer } from './particle-pack.ts'
import { type Run, STEP_S } from './run.ts'
import { HEAT_STEP_S } from './two-node-heat.ts'

/** Sub-moments over which an averaging box takes a cell. */
const AVERAGED = 5

/**
 * The true value of any channel of a run at any moments. Cells: the surfaces' voltage between two steps, less charge
 * transfer and ohms for the current of that moment. A filter of `filterS` is, for cells, a plain mean over the last
 * 2 · filterS (a converter that averages), for others a first-order lag.
 */
export class RunTruth implements Measurable {
  readonly durationS: number
  readonly faults: readonly Fault[]
  private readonly lagged = new Map<string, Float64Array>()
  private readonly sensorC: Float64Array[]

  constructor(
    readonly run: Run,
    random: Random,
  ) {
    this.durationS = (run.length - 1) * STEP_S
    this.faults = run.faults
    this.sensorC = sensors(run, random)
  }

  values(id: string, atS: ArrayLike<number>, filterS = 0): Float64Array {
    const { run } = this
    const dot = id.lastIndexOf('.')
    const number = dot > 0 ? Number(id.slice(dot + 1)) : 0
    if (id.startsWith('cell_voltage.')) return this.cell(number - 1, atS, filterS)
    if (id.startsWith('module_temperature.')) return this.sensor(number, atS)
    if (id.startsWith('box_voltage.')) return this.box(number, atS)
    if (id === 'soc') return this.soc(atS)
    const heats: Record<string, Float64Array> = {
      coolant_in: run.waterInC,
      coolant_out: run.waterOutC,
      inverter_temperature: run.inverterC,
      motor_temperature: run.motorC,
    }
    if (heats[id]) return Float64Array.from(atS, (t) => line(heats[id]!, t / HEAT_STEP_S))
    const column = run.at[id]
    if (!column) throw new Error(`the second simulator has no channel ${id}`)
    const kind = catalogueEntry(id)?.kind
    const steps = id === 'gear' || id.endsWith('_limit') || (kind !== undefined && kind !== 'number')
    if (steps)
      return Float64Array.from(
        atS,
        (t) => column[Math.max(0, Math.min(column.length - 1, Math.floor(t / STEP_S + 1e-6)))]!,
      )
    const source = filterS > 0 ? this.lag(id, column, filterS) : column
    return Float64Array.from(atS, (t) => line(source, t / STEP_S))
  }

  /** Own voltage of a cell, V, and what its reading adds: joints, leads. */
  private cell(k: number, atS: ArrayLike<number>, filterS: number): Float64Array {
    const { run } = this
    const { pack } = run
    const m = pack.moduleOf[k]!
    const current = run.at.pack_current!
    const joints = pack.faultJoints.filter((joint) => joint.cell === k)
    const leads = faultsOf(run.faults, 'sense-lead').filter((lead) => lead.cell === k + 1 || lead.cell === k)
    const one = (t: number): number => {
      const amps = line(current, t / STEP_S)
      const cellPlace = Math.max(0, Math.min(run.inside.length - 1.001, t / CELL_STEP_S))
      const low = Math.floor(cellPlace)
      const before = run.inside[low]![k]!
      const inside = before + (cellPlace - low) * (run.inside[low + 1]![k]! - before)
      const slot = Math.max(0, Math.min(run.kinetics.length - 1, Math.floor(t / HEAT_STEP_S)))
      const now = run.kinetics[slot]!
      const lost = chargeTransfer(thermalVolt(run.coreC[slot]![m]!), now[3 * k]!, now[3 * k + 1]!, amps)
      let ohm = now[3 * k + 2]! + pack.readOhm[k]!
      for (const joint of joints) if (joint.present(t)) ohm += joint.ohm
      return inside - lost - ohm * amps
    }
    const out = new Float64Array(atS.length)
    for (let i = 0; i < out.length; i++) {
      const t = atS[i]!
      let volt = 0
      if (filterS > 0)
        for (let j = 0; j < AVERAGED; j++) volt += one(t - (2 * filterS * (j + 0.5)) / AVERAGED) / AVERAGED
      else volt = one(t)
      for (const lead of leads) if (active(lead, t)) volt += lead.cell === k + 1 ? lead.volt : -lead.volt
      out[i] = volt
    }
    return out
  }

  private box(number: number, atS: ArrayLike<number>): Float64Array {
    const { build, pack } = this.run
    const name = [...new Set(build.boxOfModule)][number - 1]
    const out = new Float64Array(atS.length)
    for (let k = 0; k < pack.cells; k++)
      if (build.boxOfModule[pack.moduleOf[k]!] === name)
        for (const [i, volt] of this.cell(k, atS, 0).entries()) out[i]! += volt
    return out
  }

  private sensor(number: number, atS: ArrayLike<number>): Float64Array {
    let from = number
    for (const { sensors: both } of faultsOf(this.faults, 'temperature-swapped'))
      from = both[0] === number ? both[1] : both[1] === number ? both[0] : from
    return Float64Array.from(atS, (t) => line(this.sensorC[from - 1]!, t / HEAT_STEP_S))
  }

  /** What the battery unit shows: the start, less the charge counted, of the nominal capacity. */
  private soc(atS: ArrayLike<number>): Float64Array {
    const { build } = this.run
    let counted = this.lagged.get('soc')
    if (!counted) {
      let ah = 0
      counted = this.run.at.pack_current!.map((amps) => (ah += (amps * STEP_S) / 3600))
      this.lagged.set('soc', counted)
    }
    return Float64Array.from(
      atS,
      (t) => 100 * (build.cells.startSoc - line(counted, t / STEP_S) / build.cells.capacityAh),
    )
  }

  private lag(id: string, column: Float64Array, filterS: number): Float64Array {
    const key = `${id}/${filterS}`
    let known = this.lagged.get(key)
    if (!known) {
      let y = column[0]!
      const share = 1 - Math.exp(-STEP_S / filterS)
      this.lagged.set(key, (known = column.map((value) => (y += share * (value - y)))))
    }
    return known
  }
}

/** A series between its steps, straight; held at both ends. */
export function line(values: ArrayLike<number>, place: number): number {
  const last = values.length - 1
  if (place <= 0) return values[0]!
  if (place >= last) return values[last]!
  const low = Math.floor(place)
  return values[low]! + (place - low) * (values[low + 1]! - values[low]!)
}

/**
 * What the sensors follow, 12 s late: `cell` 0.3 core and 0.7 surface, `busbar` the surface and its links' heat,
 * `plate` 0.6 surface and 0.4 water; each with an error of its own (0.3 K).
 */
function sensors(run: Run, random: Random): Float64Array[] {
  const { heat } = run.build
  const share = 1 - Math.exp(-HEAT_STEP_S / 12)
  return run.build.cells.perModule.flatMap((_, m) =>
    Array.from({ length: heat.sensorsPerModule }, (_, s) => {
      const place = heat.sensorPlaces[s % heat.sensorPlaces.length]
      const error = 0.3 * random.normal()
      let y = Number.NaN
      return Float64Array.from(run.coreC, (core, i) => {
        const surface = run.surfaceC[i]![m]!
        const seen =
          place === 'plate'
            ? 0.6 * surface + 0.4 * run.waterC[i]![m]!
            : place === 'busbar'
              ? surface + 0.03 * run.linkWatt[i]![m]!
              : 0.3 * core[m]! + 0.7 * surface
        y = Number.isNaN(y) ? seen : y + share * (seen - y)
        return y + error
      })
    }),
  )
}

/**
 * The truth in the first model's form. A particle has no single resistance: `ohmicMohm` is Σ I · (ohmic and charge
 * transfer) / Σ I² over this drive, `slowMohm` the same of diffusion. A module's `coolingFactor` is its whole way from
 * core to coolant against what it was built with.
 */
export function truthOfRun(run: Run, source: RunTruth, clocks: DriveTruth['clocks']): DriveTruth {
  const { pack, build, ledger, faults, heat } = run
  const [squares, fast, slow] = pack.sums
  const rest = Float64Array.from(
    { length: pack.cells },
    (_, k) => source.values(`cell_voltage.${k + 1}`, [0])[0]!,
  )
  const middle = median(rest)
  const cells = Array.from({ length: pack.cells }, (_, k) => {
    const joint = pack.faultJoints.filter(({ cell }) => cell === k).reduce((sum, { ohm }) => sum + ohm, 0)
    return {
      index: k + 1,
      module: pack.moduleOf[k]! + 1,
      ohmicMohm: (1000 * fast[k]!) / squares[k]!,
      slowMohm: (1000 * slow[k]!) / squares[k]!,
      readMohm: 1000 * (pack.readOhm[k]! + joint),
      faultJointMohm: 1000 * joint,
      capacityAh: pack.capacityAh[k]!,
      startSoc: pack.startSoc[k]!,
      restOffsetMv: 1000 * (rest[k]! - middle),
    }
  })
  const of = (read: (cell: (typeof cells)[number]) => number): number => median(cells.map(read))
  const { precharge, brake } = build
  const whole = precharge.bleedOhm + precharge.resistorOhm
  const key = run.at.key_on!
  const ready = run.at.drive_ready!
  const keyOn = key.indexOf(1)
  const readyAt = ready.indexOf(1)
  return {
    faults,
    durationS: source.durationS,
    distanceKm: ledger.distanceM / 1000,
    energyOutWh: ledger.outWh,
    energyInWh: ledger.inWh,
    ahOut: ledger.ahOut,
    ahIn: ledger.ahIn,
    ledger,
    cells,
    medianOhmicMohm: of((cell) => cell.ohmicMohm),
    medianSlowMohm: of((cell) => cell.slowMohm),
    medianReadMohm: of((cell) => cell.readMohm),
    modules: build.cells.perModule.map((_, m) => {
      const factor = faultsOf(faults, 'cooling')
        .filter(({ module }) => module === m + 1)
        .reduce((product, fault) => product * fault.factor, 1)
      const plate = heat.plateKelvinWatt[m]!
      const core = heat.coreKelvinWatt[m]!
      const celsius = run.coreC.map((all) => all[m]!)
      return {
        index: m + 1,
        coolingFactor: (core + plate) / (core + plate / factor),
        riseC: Math.max(...celsius) - celsius[0]!,
        hottestC: Math.max(...celsius),
      }
    }),
    precharge: {
      reachedPercent: (100 * precharge.bleedOhm) / whole,
      tauS: (precharge.linkFarad * precharge.bleedOhm * precharge.resistorOhm) / whole,
      loadOhm: precharge.bleedOhm,
    },
    regen: {
      startBar: brake.startBar,
      fullBar: brake.fullBar,
      maxNm: brake.maxNm,
      fadeKmh: brake.fadeKmh,
      limitedShare: ledger.brakingS > 0 ? ledger.limitedS / ledger.brakingS : 0,
    },
    starts: [
      {
        keyOnS: keyOn * STEP_S,
        keyOffS: Math.min(run.keyOffS, source.durationS),
        readyS: readyAt < 0 ? null : readyAt * STEP_S,
        lostS: null,
      },
    ],
    runaways: run.runaways,
    clocks,
  }
}
