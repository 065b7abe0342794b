import type { Vehicle } from '../../shared/vehicle.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** A small deterministic generator (mulberry32): tests never use Math.random. */
export function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}

export interface HeatedCar {
  readonly stores: 1 | 2
  readonly modules: number
  readonly minutes: number
  /** Module (1-based) whose path from plate to coolant sheds its heat so many times as slowly; null: healthy. */
  readonly poor: { readonly module: number; readonly factor: number } | null
  readonly stepC: number
  readonly coolantLogged: boolean
}

/**
 * Modules by explicit Euler steps of half a second, not by the fit's own stepping: cells, plate, coolant from module to
 * module, heat that falls with warmth by Arrhenius and with current by kinetics, sensors between cells and plate with
 * an error each, cells that differ by a percent. Formulas by hand: lumped-capacity heat balance, any textbook.
 * Gives the drive, the vehicle file's part, and each module's whole resistance against the median of the others.
 */
export function heatedDrive(car: HeatedCar, seed: number) {
  const random = seeded(seed)
  const between = (low: number, high: number): number => low + (high - low) * random()
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())
  const n = Math.round(car.minutes * 60)
  const activationK = between(1500, 4000)
  const kinetics = car.stores === 2 ? between(0, 0.5) : 0
  const capacity = between(12_000, 30_000)
  const plateShare = car.stores === 2 ? between(0.08, 0.4) : 0
  const whole = between(700, 2200) / capacity
  const inside = car.stores === 2 ? between(0.1, 0.4) * whole : 0
  const sensorAt = between(0, 1)
  const ohm = between(8e-3, 20e-3)
  const flow = between(150, 700)
  const path = Array.from({ length: car.modules }, (_, m) => {
    const own = (whole - inside) * (1 + 0.03 * normal())
    return m + 1 === car.poor?.module ? own * car.poor.factor : own
  })
  const heatShare = path.map(() => 1 + 0.007 * normal())
  const offset = path.map(() => 0.35 * normal())
  const start = between(8, 28)
  const cells = new Float64Array(car.modules).fill(start)
  const plates = new Float64Array(car.modules).fill(start)
  const current = new Float64Array(n)
  const hard = between(50, 110)
  for (let i = 0, amp = 0, left = 0; i < n; i++) {
    if (left-- <= 0) {
      // town, road and stops: the load differs between stretches
      const level = Math.floor(i / 240) % 3 === 1 ? 0.5 : 1.15
      amp = random() < 0.25 ? 0 : level * hard * (random() < 0.2 ? -0.5 : 1) * between(0.4, 1.9)
      left = Math.floor(between(5, 40))
    }
    current[i] = amp
  }
  const timeS = Float64Array.from({ length: n }, (_, i) => i)
  const inlet = new Float64Array(n)
  const outlet = new Float64Array(n)
  const read = path.map(() => new Float64Array(n))
  let water = start
  const h = 0.5
  for (let i = 0; i < n; i++) {
    const square = current[i]! ** 2 / (1 + (kinetics * Math.abs(current[i]!)) / 100)
    for (let half = 0; half < 2; half++) {
      let stream = water
      for (let m = 0; m < car.modules; m++) {
        const heat =
          heatShare[m]! * ohm * square * Math.exp(activationK * (1 / (cells[m]! + 273.15) - 1 / 298.15))
        if (car.stores === 1) {
          const given = (cells[m]! - stream) / path[m]!
          cells[m]! += (h * (heat - given)) / capacity
          plates[m] = cells[m]!
          stream += given / flow
        } else {
          const across = (cells[m]! - plates[m]!) / inside
          const given = (plates[m]! - stream) / path[m]!
          cells[m]! += (h * (heat - across)) / ((1 - plateShare) * capacity)
          plates[m]! += (h * (across - given)) / (plateShare * capacity)
          stream += given / flow
        }
      }
      outlet[i] = stream
      water += (h * ((stream - water) * flow - (water - start) * 120)) / 17_000
    }
    inlet[i] = water
    for (let m = 0; m < car.modules; m++) {
      const seen = sensorAt * cells[m]! + (1 - sensorAt) * plates[m]!
      read[m]![i] = Math.round((seen + offset[m]! + 0.1 * (random() - 0.5)) / car.stepC) * car.stepC
    }
  }
  const columns: Record<string, Float64Array> = { pack_current: current }
  if (car.coolantLogged) Object.assign(columns, { coolant_in: inlet, coolant_out: outlet })
  for (let m = 0; m < car.modules; m++) columns[`module_temperature.${m + 1}`] = read[m]!
  const full = path.map((own) => own + inside)
  const ratio = full.map((own, m) => {
    const others = full.filter((_, other) => other !== m).sort((a, b) => a - b)
    return (
      own /
      (0.5 * (others[Math.floor((others.length - 1) / 2)]! + others[Math.ceil((others.length - 1) / 2)]!))
    )
  })
  const vehicle: Vehicle = {
    pack: {
      cooling_group_of_module: path.map(() => 'one plate'),
      cooling_order: [path.map((_, m) => m + 1)],
      sensors_of_module: path.map((_, m) => [m + 1]),
      chemistry: 'nmc',
    },
  }
  return { drive: driveFromColumns(timeS, columns), vehicle, ratio }
}
