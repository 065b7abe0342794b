import { catalogueEntry } from '../../shared/channels.ts'
import { derived } from './derived.ts'
import { active, faultsOf } from './faults.ts'
import { openCircuitVolt } from './open-circuit.ts'
import { arrhenius } from './pack.ts'
import { between, HEAT_STEP_S, STEP_S, stepAt, type Trace, type Traced } from './trace.ts'

/**
 * The true value of any channel at any moments, before gain, noise and steps; cells through a first-order voltage
 * filter of `filterS` (exact: the filter is linear, so it is put on the common current, slow parts and charge).
 */
export class TruthAt {
  private readonly filtered = new Map<number, Filtered>()

  readonly durationS: number

  constructor(readonly trace: Trace) {
    this.durationS = (trace.length - 1) * STEP_S
  }

  get faults(): Trace['faults'] {
    return this.trace.faults
  }

  /** @param atS moments of truth, rising. */
  values(id: string, atS: ArrayLike<number>, filterS = 0): Float64Array {
    const dot = id.lastIndexOf('.')
    const number = dot > 0 ? Number(id.slice(dot + 1)) : 0
    const { trace } = this
    if (id.startsWith('cell_voltage.')) return this.cell(number - 1, atS, filterS)
    if (id.startsWith('balancing.')) return Float64Array.from(atS, (t) => this.bled(number - 1, t))
    if (id.startsWith('module_temperature.')) return this.sensor(number, atS)
    const slow: Record<string, Float64Array> = {
      coolant_in: trace.coolantInC,
      coolant_out: trace.coolantOutC,
      inverter_temperature: trace.inverterC,
      motor_temperature: trace.motorC,
    }
    if (slow[id]) return Float64Array.from(atS, (t) => between(slow[id]!, t, HEAT_STEP_S))
    if (id === 'soc') return this.soc(atS)
    const traced = trace.at[id as Traced]
    const made = traced ? null : derived(this, id, atS)
    if (made) return made
    if (!traced) throw new Error(`the simulator has no channel ${id}`)
    // Switches, codes and limits step: they are never interpolated.
    const held = catalogueEntry(id)?.kind !== 'number' || id.endsWith('_limit')
    const source = filterS > 0 && !held ? lowPass(traced, filterS) : traced
    const out = new Float64Array(atS.length)
    if (held) for (let i = 0; i < out.length; i++) out[i] = stepAt(source, atS[i]!)
    else for (let i = 0; i < out.length; i++) out[i] = between(source, atS[i]!)
    return out
  }

  /** State of charge of the pack's middle cell, percent. */
  private soc(atS: ArrayLike<number>): Float64Array {
    const { pack, dischargedAh } = this.trace
    const middle = pack.cells >> 1
    const capacity = pack.capacityAh.slice().sort()[middle]!
    const start = pack.startSoc.slice().sort()[middle]!
    return Float64Array.from(atS, (t) => 100 * (start - between(dischargedAh, t) / capacity))
  }

  private cell(k: number, atS: ArrayLike<number>, filterS: number): Float64Array {
    const { trace } = this
    const { pack, car } = trace
    const source = this.through(filterS)
    const module = trace.moduleC[pack.moduleOf[k]!]!
    const joints = pack.faultJoints.filter((joint) => joint.cell === k)
    const leads = faultsOf(trace.faults, 'sense-lead').filter(
      (lead) => lead.cell === k + 1 || lead.cell === k,
    )
    const balance = car.pack.balanceA * car.pack.leadOhm
    const out = new Float64Array(atS.length)
    let knownAt = -1
    let f0 = 0
    let f1 = 0
    const capacity = pack.capacityAh[k]!
    const start = pack.startSoc[k]!
    for (let i = 0; i < out.length; i++) {
      const t = atS[i]!
      // The module's temperature moves by millikelvins a second: its factors are renewed every 2 s.
      const slot = Math.floor(t / 2)
      if (slot !== knownAt) {
        knownAt = slot
        const celsius = between(module, t, HEAT_STEP_S)
        f0 = arrhenius(car.pack.ohmicArrheniusK, celsius) * pack.ohmic[k]!
        f1 = arrhenius(car.pack.slowArrheniusK, celsius)
      }
      const place = Math.max(0, Math.min(trace.length - 1.001, t / STEP_S))
      const at = Math.floor(place)
      const share = place - at
      const amps = source.amps[at]! + share * (source.amps[at + 1]! - source.amps[at]!)
      const x1 = source.x1[at]! + share * (source.x1[at + 1]! - source.x1[at]!)
      const x2 = source.x2[at]! + share * (source.x2[at + 1]! - source.x2[at]!)
      const ah = source.ah[at]! + share * (source.ah[at + 1]! - source.ah[at]!)
      let volt =
        openCircuitVolt(car.pack.chemistry, start - (ah + (pack.drainA[k]! * t) / 3600) / capacity) -
        (f0 + pack.readOhm[k]!) * amps -
        f1 * (pack.slow1[k]! * x1 + pack.slow2[k]! * x2)
      for (const joint of joints) if (joint.present(t)) volt -= joint.ohm * amps
      for (const lead of leads) if (active(lead, t)) volt += lead.cell === k + 1 ? lead.volt : -lead.volt
      if (balance > 0) volt += balance * (this.bled(k - 1, t) + this.bled(k + 1, t) - 2 * this.bled(k, t))
      out[i] = volt
    }
    return out
  }

  /** 1 while the cell is bled: awake, in its turn. */
  private bled(k: number, t: number): number {
    const { pack, car, at } = this.trace
    if (k < 0 || k >= pack.cells) return 0
    const turn = Math.floor(Math.max(0, t) / car.pack.balanceTurnS) % 2
    return pack.bled[turn]![k] === 1 && stepAt(at.key_on, t) === 1 ? 1 : 0
  }

  private sensor(number: number, atS: ArrayLike<number>): Float64Array {
    let from = number
    for (const { sensors } of faultsOf(this.trace.faults, 'temperature-swapped'))
      from = sensors[0] === number ? sensors[1] : sensors[1] === number ? sensors[0] : from
    const celsius = this.trace.sensorC[from - 1]!
    return Float64Array.from(atS, (t) => between(celsius, t, HEAT_STEP_S))
  }

  private through(filterS: number): Filtered {
    let known = this.filtered.get(filterS)
    if (!known) {
      const { trace } = this
      const pass = (values: Float64Array): Float64Array => (filterS > 0 ? lowPass(values, filterS) : values)
      known = {
        amps: pass(trace.at.pack_current),
        x1: pass(trace.x1),
        x2: pass(trace.x2),
        ah: pass(trace.dischargedAh),
      }
      this.filtered.set(filterS, known)
    }
    return known
  }
}

interface Filtered {
  readonly amps: Float64Array
  readonly x1: Float64Array
  readonly x2: Float64Array
  readonly ah: Float64Array
}

function lowPass(values: Float64Array, filterS: number): Float64Array {
  const out = new Float64Array(values.length)
  const share = 1 - Math.exp(-STEP_S / filterS)
  let y = values[0]!
  for (let i = 0; i < values.length; i++) out[i] = y += share * (values[i]! - y)
  return out
}
