import { type Fault, faultsOf } from '../faults.ts'
import { Ledger } from '../ledger.ts'
import type { Random } from '../random.ts'
import type { Build } from './build.ts'
import { Foot } from './foot.ts'
import { CELL_STEP_S, ParticlePack, Source } from './particle-pack.ts'
import type { Road } from './road.ts'
import { lossWatt, Traction } from './traction.ts'
import { HEAT_STEP_S, TwoNodeHeat } from './two-node-heat.ts'

/** Step of car and circuit, s. */
export const STEP_S = 0.02
const CELL_EVERY = Math.round(CELL_STEP_S / STEP_S)
const HEAT_EVERY = Math.round(HEAT_STEP_S / STEP_S)

export interface RunOptions {
  readonly keyOnS: number
  /** Logged after key-off; of a car that stays parked, in all. */
  readonly restS: number
  /** Plugged in `afterS` after key-off (of a parked car: after the log's begin), with so many ampere. */
  readonly charge?: { readonly afterS: number; readonly durationS: number; readonly amps: number }
  /** The key alone, for so long: nothing else is touched and nothing closes. */
  readonly keyAloneS?: number
}

/** Everything that is true of a run; channels by catalogue id every STEP_S, cells every 0.1 s, heat every 0.5 s. */
export interface Run {
  readonly build: Build
  readonly faults: readonly Fault[]
  readonly pack: ParticlePack
  readonly heat: TwoNodeHeat
  readonly length: number
  readonly at: Readonly<Record<string, Float64Array>>
  /** One a cell step: `inside` of every cell; one a heat step: exchange currents (n, p) and ohmic of every cell. */
  readonly inside: readonly Float64Array[]
  readonly kinetics: readonly Float64Array[]
  /** A heat step: per module core, surface, water; links' heat. */
  readonly coreC: readonly Float64Array[]
  readonly surfaceC: readonly Float64Array[]
  readonly waterC: readonly Float64Array[]
  readonly linkWatt: readonly Float64Array[]
  readonly waterInC: Float64Array
  readonly waterOutC: Float64Array
  readonly inverterC: Float64Array
  readonly motorC: Float64Array
  readonly ledger: Ledger
  readonly runaways: Traction['runaways']['spells']
  readonly keyOffS: number
}

/** State numbers of this car's units; the vehicle file says what they mean. */
export const STATES = { off: 0, waiting: 1, precharge: 2, closed: 3, charging: 4 } as const

/** Car and charger talk for so long before anything closes, s. */
const PLUG_TALK_S = 3

/** A healthy start by the clock, a drive along the road, parking, rest. */
export function run(
  build: Build,
  faults: readonly Fault[],
  road: Road | null,
  options: RunOptions,
  random: Random,
): Run {
  const dt = STEP_S
  const pack = new ParticlePack(build, faults, random.fork('pack'))
  const source = new Source(pack)
  const heat = new TwoNodeHeat(build, faults, random.fork('heat'))
  const traction = new Traction(build, faults)
  const foot = road ? new Foot(build, road, random.fork('foot')) : null
  const ledger = new Ledger()
  const modules = build.cells.perModule.length
  const selfHeating = faultsOf(faults, 'self-heating')
  const { charge, keyAloneS } = options
  const parked = !Number.isFinite(options.keyOnS)
  const longestS = parked ? options.restS : options.keyOnS + (road?.durationS ?? 0) + options.restS + 60
  const room = Math.ceil(longestS / dt) + 2
  const at: Record<string, Float64Array> = {}
  const put = (id: string, i: number, value: number): void => {
    let column = at[id]
    if (!column) column = at[id] = new Float64Array(room)
    column[i] = value
  }
  const inside: Float64Array[] = []
  const kinetics: Float64Array[] = []
  const coreC: Float64Array[] = []
  const surfaceC: Float64Array[] = []
  const waterC: Float64Array[] = []
  const linkWatts: Float64Array[] = []
  const slow: [number[], number[], number[], number[]] = [[], [], [], []]
  const cellWatt = new Float64Array(modules)
  const linkOhm = new Float64Array(modules)
  for (let k = 0; k < pack.cells; k++) linkOhm[pack.moduleOf[k]!]! += pack.pathOhm[k]!
  const worn = faultsOf(faults, 'contactor-resistance').reduce((sum, fault) => sum + fault.ohm, 0)
  const terminalOhm = (0.55 * build.links.pathMohm) / 1000
  const mainOhm = build.links.pathMohm / 1000 + worn
  const { precharge, brake, pedal } = build
  const volt2 = (travel: number, [low, high]: readonly [number, number]): number =>
    low + travel * (high - low)

  let speed = 0
  let link = 0
  let amps = 0
  let sumAmps = 0
  let sumSquares = 0
  let heatSquares = 0
  let driveJ = 0
  let roadS = 0
  let keyOffS = Number.POSITIVE_INFINITY
  let closeS = Number.POSITIVE_INFINITY
  let gear = 0
  let shiftUntilS = -1
  let omega = 0
  let lvVolt = 12.45
  let chargeA = build.limits.chargeA
  let kohm = 4000
  const { keyOnS } = options
  const parkBar = 12
  let i = 0
  source.warm(heat.coreC)
  source.renew()
  const record = (): void => {
    coreC.push(heat.coreC.slice())
    surfaceC.push(heat.surfaceC.slice())
    waterC.push(heat.waterC.slice())
    slow[0].push(heat.inC)
    slow[1].push(heat.outC)
    slow[2].push(heat.inverterC)
    slow[3].push(heat.motorC)
    const now = new Float64Array(3 * pack.cells)
    for (let k = 0; k < pack.cells; k++) {
      now[3 * k] = pack.nowN[k]!
      now[3 * k + 1] = pack.nowP[k]!
      now[3 * k + 2] = pack.ohmicOf(k)
    }
    kinetics.push(now)
  }
  inside.push(pack.inside.slice())
  linkWatts.push(new Float64Array(modules))
  record()
  for (; i < room; i++) {
    const timeS = i * dt
    const sinceKey = timeS - keyOnS
    if (keyAloneS !== undefined && keyOffS > keyOnS + keyAloneS) keyOffS = keyOnS + keyAloneS
    const key = sinceKey >= 0 && timeS < keyOffS
    const sincePlug = charge ? timeS - (parked ? 0 : keyOffS) - charge.afterS : -1
    const plugged = charge !== undefined && sincePlug >= 0 && sincePlug < charge.durationS
    const awake = (sinceKey >= 0 && timeS < keyOffS + 0.4) || plugged
    if (!awake) closeS = Number.POSITIVE_INFINITY
    const sinceAsked = plugged ? sincePlug - PLUG_TALK_S : keyAloneS === undefined ? sinceKey : 0
    const slope = road ? road.slopeAt(ledger.distanceM) : 0

    // Start by the clock: brake, check, precharge, close, ready, selector.
    const preOn = (key || plugged) && sinceAsked > 1.6 && timeS < closeS + 0.3
    if (preOn && link > (precharge.readyPercent / 100) * source.emf && closeS === Number.POSITIVE_INFINITY)
      closeS = timeS + 0.1
    const negative = (key || plugged) && sinceAsked > 1.4 ? 1 : awake && closeS < timeS ? 1 : 0
    const positive = awake && timeS >= closeS ? 1 : 0
    const main = negative === 1 && positive === 1
    const powered = main && key && timeS > closeS + 0.6
    const selector = powered && timeS > closeS + 1.8 && timeS < keyOffS - 1.2 ? 1 : 0
    const ready = selector === 1 && timeS > closeS + 2.2 && timeS < keyOffS - 1
    if (road && ready && keyOffS === Number.POSITIVE_INFINITY) {
      roadS += dt
      if (roadS >= road.durationS - 0.5 && speed < 0.03) keyOffS = timeS + 3
    } else if (!road && powered && keyOffS === Number.POSITIVE_INFINITY && timeS > closeS + 5)
      keyOffS = timeS + 2
    const ratio = build.road.ratios[gear]!
    if (foot && ready && keyOffS === Number.POSITIVE_INFINITY)
      foot.step(dt, { timeS, roadS, speedMs: speed, omega, ratio, startled: traction.runaways.startles })
    else if (foot) {
      foot.travel = Math.max(0, foot.travel - dt)
      foot.cruiseMs = null
      const aim = sinceKey > 0.5 && timeS < keyOffS + 0.3 ? parkBar : 0
      foot.bar += (aim - foot.bar) * Math.min(1, dt / 0.15)
      if (aim === 0 && foot.bar < 0.03) foot.bar = 0
    }
    const travel = foot?.travel ?? 0
    const bar = foot?.bar ?? 0

    // Gearbox: lift off, change, and pull again.
    const kmh = speed * 3.6
    if (build.road.ratios.length > 1 && timeS >= shiftUntilS) {
      const free = 118 * build.road.wheelRadiusM
      if (gear < build.road.ratios.length - 1 && speed * ratio > free * 3.4) {
        gear++
        shiftUntilS = timeS + 0.9
      } else if (gear > 0 && speed * ratio < free * 1.5 && kmh > 1) {
        gear--
        shiftUntilS = timeS + 0.9
      }
    }
    const shifting = timeS < shiftUntilS
    const aimOmega = (speed / build.road.wheelRadiusM) * build.road.ratios[gear]!
    omega = shifting ? omega + (aimOmega - omega) * Math.min(1, dt / 0.18) : aimOmega

    traction.step(dt, {
      timeS,
      ready,
      selector,
      travel,
      bar,
      speedMs: speed,
      slope,
      omega,
      volt: Math.max(50, link),
      chargeA,
      dischargeA: build.limits.dischargeA,
      battery: {
        cellV: source.emf / pack.cells,
        cellOhm: (1.6 * source.ohm) / pack.cells,
        soc: build.cells.startSoc - pack.movedAh / build.cells.capacityAh,
      },
      cruiseMs: foot?.cruiseMs ?? null,
      shifting,
    })
    const { torque } = traction
    const lossW = powered ? lossWatt(torque, omega) : 0
    const inverterW = powered ? torque * omega + lossW : 0
    const auxiliaryW = powered ? build.auxiliaryW : 0
    // The station ramps up in 5 s and is down 4 s before the plug is drawn.
    const ramp = charge ? Math.min(1, (timeS - closeS) / 5, (charge.durationS - 4 - sincePlug) / 5) : 0
    const chargeW = plugged && main ? charge.amps * link * Math.max(0, ramp) : 0

    // Circuit.
    let extra = 0
    for (const joint of pack.faultJoints) if (joint.present(timeS)) extra += joint.ohm
    const before = link
    if (main) {
      amps = source.currentFor(inverterW + auxiliaryW - chargeW, extra + mainOhm, amps)
      link = source.at(amps, extra + mainOhm)
    } else if (preOn && negative === 1) {
      const across = 1 / (1 / precharge.bleedOhm + 1 / precharge.resistorOhm)
      const aim = (source.emf * precharge.bleedOhm) / (precharge.bleedOhm + precharge.resistorOhm)
      link = aim + (link - aim) * Math.exp(-dt / (across * precharge.linkFarad))
      amps = (source.emf - (before + link) / 2) / precharge.resistorOhm
    } else {
      amps = 0
      const ohm = timeS > keyOffS || (parked && !plugged) ? 900 : precharge.bleedOhm
      link *= Math.exp(-dt / (ohm * precharge.linkFarad))
    }
    const cellsVolt = source.at(amps, extra)
    const where = build.links.packVoltageAt
    const packVolt =
      where === 'after-contactors'
        ? main
          ? link
          : 0
        : where === 'cells'
          ? cellsVolt
          : cellsVolt - terminalOhm * amps
    ledger.electric(dt / 3600, where === 'after-contactors' && !main ? cellsVolt : packVolt, amps)
    ledger.deliveredWh += (cellsVolt * amps * dt) / 3600
    ledger.linkHeatWh += ((extra + linkOhm.reduce((a, b) => a + b, 0)) * amps * amps * dt) / 3600
    ledger.pathHeatWh += (mainOhm * amps * amps * dt) / 3600
    ledger.braking(dt, bar > 1.6, traction.request, traction.heldNm)
    sumAmps += amps
    sumSquares += amps * amps
    driveJ += lossW * dt

    // Car.
    const driven = shifting
      ? 0
      : ((torque * build.road.ratios[gear]!) / build.road.wheelRadiusM) * (torque > 0 ? 0.96 : 1 / 0.96)
    const friction = brake.frictionNewtonBar * Math.max(0, bar - 0.8)
    const { massKg, dragAreaM2, rolling } = build.road
    const resist = massKg * 9.81 * (rolling * Math.min(1, speed * 4)) + 0.6 * dragAreaM2 * speed * speed
    const push = driven - massKg * 9.81 * slope
    const next =
      speed === 0 && push < friction + massKg * 9.81 * rolling * 0.3
        ? 0
        : Math.max(0, speed + (dt * (push - resist - friction)) / (1.05 * massKg))
    const accel = (next - speed) / dt
    ledger.distanceM += ((speed + next) / 2) * dt
    speed = next

    lvVolt += ((powered ? 14.05 : key ? 12.3 : 12.5) - lvVolt) * Math.min(1, dt / 0.3)
    kohm += ((awake ? 2950 : 4000) - kohm) * Math.min(1, dt / 1.5)
    put('pack_voltage', i, packVolt)
    put('pack_current', i, amps)
    put('link_voltage', i, link)
    put('inverter_dc_current', i, inverterW / Math.max(50, link))
    put('contactor_precharge', i, preOn ? 1 : 0)
    put('contactor_positive', i, positive)
    put('contactor_negative', i, negative)
    put('key_on', i, key ? 1 : 0)
    put('charge_plug', i, plugged ? 1 : 0)
    put('interlock_closed', i, 1)
    put('inertia_closed', i, 1)
    put('drive_ready', i, ready ? 1 : 0)
    put('selector', i, selector)
    put('brake_switch', i, bar > 1.2 ? 1 : 0)
    put('brake_lamp', i, bar > 1.2 || (accel < -1.2 && torque < -5) ? 1 : 0)
    put('coolant_pump', i, key ? 1 : 0)
    put(
      'bms_state',
      i,
      !awake
        ? STATES.off
        : main
          ? plugged
            ? STATES.charging
            : STATES.closed
          : preOn
            ? STATES.precharge
            : STATES.waiting,
    )
    put('inverter_state', i, ready ? 3 : powered ? 2 : link > 100 ? 1 : 0)
    put('pedal_track_1', i, volt2(travel, pedal.track1))
    put('pedal_track_2', i, volt2(travel, pedal.track2))
    put('pedal_position', i, travel * 100)
    put('brake_pressure', i, bar + brake.zeroBar)
    put('speed', i, speed * 3.6)
    put('motor_speed', i, (omega * 30) / Math.PI)
    put('gear', i, shifting ? 0 : gear + 1)
    put('torque_request', i, traction.request)
    put('torque', i, torque)
    put('acceleration', i, accel)
    put('gradient', i, slope * 100)
    put('cruise_active', i, traction.cruising ? 1 : 0)
    put('hold_active', i, traction.holding ? 1 : 0)
    put('lv_voltage', i, lvVolt)
    put('dcdc_current', i, powered ? auxiliaryW / 14 : 0)
    put('isolation_resistance', i, kohm)
    put('charge_limit', i, Math.round(chargeA))
    put('discharge_limit', i, build.limits.dischargeA)

    // Cells and heat, on their own steps.
    if ((i + 1) % CELL_EVERY === 0) {
      pack.step(sumAmps / CELL_EVERY)
      heatSquares += sumSquares / CELL_EVERY
      sumAmps = sumSquares = 0
      inside.push(pack.inside.slice())
      source.renew()
      for (let m = 0; m < modules; m++) cellWatt[m]! += pack.watt[m]!
    }
    if ((i + 1) % HEAT_EVERY === 0) {
      const turns = HEAT_EVERY / CELL_EVERY
      const linkWatt = linkOhm.map((ohm) => (ohm * heatSquares) / turns)
      for (const joint of pack.faultJoints)
        if (joint.present(timeS)) linkWatt[pack.moduleOf[joint.cell]!]! += (joint.ohm * heatSquares) / turns
      for (let m = 0; m < modules; m++) cellWatt[m]! /= turns
      for (const fault of selfHeating) {
        const on = timeS >= (fault.fromS ?? keyOffS) && timeS < (fault.toS ?? Number.POSITIVE_INFINITY)
        const store = heat.coreJouleK[fault.module - 1]! + heat.surfaceJouleK[fault.module - 1]!
        if (on) cellWatt[fault.module - 1]! += (fault.kelvinMin / 60) * store
      }
      heat.step(HEAT_STEP_S, timeS, key, cellWatt, linkWatt, driveJ / HEAT_STEP_S)
      driveJ = 0
      heatSquares = 0
      cellWatt.fill(0)
      pack.warm(heat.coreC)
      source.warm(heat.coreC)
      linkWatts.push(linkWatt)
      record()
      chargeA = chargeLimit(build, source, faults)
    }
    if (timeS > keyOffS + options.restS) {
      i++
      break
    }
  }
  ledger.chemicalWh = pack.chemicalJ / 3600
  ledger.cellHeatWh = pack.cellHeatJ / 3600
  return {
    build,
    faults,
    pack,
    heat,
    length: i,
    at: Object.fromEntries(Object.entries(at).map(([id, values]) => [id, values.subarray(0, i)])),
    inside,
    kinetics,
    coreC,
    surfaceC,
    waterC,
    linkWatt: linkWatts,
    waterInC: Float64Array.from(slow[0]),
    waterOutC: Float64Array.from(slow[1]),
    inverterC: Float64Array.from(slow[2]),
    motorC: Float64Array.from(slow[3]),
    ledger,
    runaways: traction.runaways.spells,
    keyOffS,
  }
}

/** What the battery takes back, A: rated, or what keeps the mean cell under its limit at its resistance now. */
function chargeLimit(build: Build, source: Source, faults: readonly Fault[]): number {
  const cells = build.cells.perModule.reduce((sum, count) => sum + count, 0)
  const room = { nmc: 4.2, lfp: 3.65 }[build.cells.chemistry] - source.emf / cells
  const rated = Math.min(
    build.limits.chargeA,
    ...faultsOf(faults, 'regen-limited').map((fault) => fault.amps),
  )
  return Math.max(0, Math.min(rated, (0.8 * room * cells) / (1.8 * source.ohm)))
}
