import { driveLoss, frictionNewton, RegenMap, roadLoad } from './brakes.ts'
import type { Car } from './car.ts'
import { contactsOf } from './contacts.ts'
import { CurrentLimits } from './current-limits.ts'
import { Driver, type DriverOptions, effectiveMass } from './driver.ts'
import { active, type Fault, faultsOf } from './faults.ts'
import { Heat, ModuleLosses } from './heat.ts'
import { HeatLog } from './heat-log.ts'
import { Ledger } from './ledger.ts'
import { Link } from './link.ts'
import { makePack } from './pack.ts'
import { PackState } from './pack-state.ts'
import { PedalTracks } from './pedal.ts'
import type { Random } from './random.ts'
import type { Route } from './route.ts'
import { BMS, INVERTER, StartChain } from './start-chain.ts'
import { IsolationMonitor, LowVoltage } from './supplies.ts'
import { TorqueControl } from './torque.ts'
import { HEAT_STEP_S, STEP_S, TRACED, type Trace, type Traced } from './trace.ts'

/**
 * Runs the true drive in steps of 10 ms: driver → contacts → torque → power → pack → car → start chain → heat.
 *
 * With the main path closed the pack gives the load's current and C dV/dt of the link's capacitor; a charging pack is
 * held to its limit. Car: 1.04 m dv/dt = driven force − friction − road load; it never rolls backwards.
 */
export function runPhysics(
  car: Car,
  faults: readonly Fault[],
  route: Route | null,
  driverOptions: DriverOptions,
  random: Random,
): Trace {
  const dt = STEP_S
  const hours = dt / 3600
  const routeS = route ? route.speed.length * route.stepS : 0
  const longestS =
    routeS +
    driverOptions.keyOnS +
    (driverOptions.attempts + 2) * (driverOptions.patienceS + 50) +
    driverOptions.restS +
    (driverOptions.charge?.durationS ?? 0) +
    90
  const room = Math.ceil(longestS / dt)
  const at = Object.fromEntries(TRACED.map((id) => [id, new Float64Array(room)])) as Record<
    Traced,
    Float64Array
  >
  const x1 = new Float64Array(room)
  const x2 = new Float64Array(room)
  const dischargedAh = new Float64Array(room)

  const packParts = makePack(car, faults, random.fork('pack'))
  const heat = new Heat(car, faults, random.fork('heat'))
  const losses = new ModuleLosses(packParts, car.pack.cellsPerModule.length)
  const pack = new PackState(car, packParts, losses, dt)
  const heatLog = new HeatLog(car, heat, Math.ceil(longestS / HEAT_STEP_S) + 2, random.fork('sensors'))
  const link = new Link(car, faults)
  const chain = new StartChain(car, faults)
  const control = new TorqueControl(car, faults, dt)
  const { habit } = driverOptions
  const known = habit ? new RegenMap({ ...car, brake: { ...car.brake, ...habit } }, []) : control.regen
  const driver = new Driver(car, route, known, driverOptions, random.fork('driver'))
  const pedal = new PedalTracks(car, faults, random.fork('pedal'))
  const lv = new LowVoltage(car, faults)
  const monitor = new IsolationMonitor(car, faults)
  const limits = new CurrentLimits(car, faults)
  const ledger = new Ledger()
  const noKey = faultsOf(faults, 'no-key')
  const wornOhm = faultsOf(faults, 'contactor-resistance').reduce((sum, fault) => sum + fault.ohm, 0)
  const terminalOhm = (0.6 * car.pack.pathMohm) / 1000
  const pathOhm = car.pack.pathMohm / 1000 + wornOhm
  const heatEvery = Math.round(HEAT_STEP_S / dt)
  let speed = 0
  let brakeSwitch = 0
  let lamp = 0
  let driveLossJ = 0
  let chargerA = 0
  /** The car has been parked since, s. */
  let parkedS = Number.POSITIVE_INFINITY
  let i = 0
  for (; i < room && !driver.done; i++) {
    const timeS = i * dt
    if (i % heatEvery === 0) {
      losses.update(pack.f0, pack.f1, timeS)
      if (driver.phase !== 'rest' && driver.phase !== 'charging') parkedS = Number.POSITIVE_INFINITY
      else parkedS = Math.min(parkedS, timeS)
      for (const { module, kelvinMin, fromS, toS } of faultsOf(faults, 'self-heating'))
        if (timeS >= (fromS ?? parkedS) && timeS < (toS ?? Number.POSITIVE_INFINITY))
          losses.watt[module - 1]! += (kelvinMin / 60) * heat.jouleKelvin(module)
      if (i > 0)
        heat.step(HEAT_STEP_S, timeS, driver.key || driver.plugged, losses.watt, driveLossJ / HEAT_STEP_S)
      driveLossJ = 0
      pack.warm(heat.moduleC)
      heatLog.record(losses.watt)
      limits.update(
        pack,
        heat.moduleC.reduce((low, celsius) => Math.min(low, celsius), 99),
      )
    }

    const slope = route ? route.slopeAt(ledger.distanceM) : 0
    const inverterReady = chain.inverter >= INVERTER.ready
    driver.step(dt, {
      timeS,
      speedMs: speed,
      slope,
      ready: chain.ready === 1,
      inverterReady,
      startled: control.runaways.startles,
    })
    const key = driver.key && !noKey.some((fault) => active(fault, timeS))
    brakeSwitch = driver.bar > car.brake.switchBar + (brakeSwitch ? -0.4 : 0.2) ? 1 : 0
    pedal.step(timeS, driver.travel)
    const contacts = contactsOf(car, faults, chain, timeS)
    const powered = chain.inverter >= INVERTER.powered
    const coils = [chain.negative, chain.positive, chain.precharge] as const
    lv.step(dt, timeS, key || driver.plugged, contacts.main && powered, coils)
    monitor.step(dt, timeS, (key || driver.plugged) && lv.volt > 7, contacts.positive || contacts.negative)

    const omega = (speed / car.road.wheelRadiusM) * car.road.gear
    control.step(dt, {
      timeS,
      ready: chain.ready === 1,
      selector: driver.selector,
      travel: driver.travel,
      bar: driver.bar,
      speedMs: speed,
      omega,
      linkVolt: link.volt,
      chargeA: limits.chargeA,
      dischargeA: limits.dischargeA,
      battery: {
        cellV: pack.openCircuit / pack.pack.cells,
        cellOhm: (pack.cellsOhm + pack.slow1Ohm) / pack.pack.cells,
        soc: car.pack.startSoc - pack.dischargedAh / car.pack.capacityAh,
      },
    })

    // Power at the link and the pack's answer.
    const { torque } = control
    const turning = powered || torque !== 0
    const lossW = turning ? driveLoss(torque, omega) : 0
    const inverterW = turning ? torque * omega + lossW : 0
    const on = powered && link.volt > 60
    const auxiliaryW = on ? car.auxiliaryW + car.heaterW + lv.dcdcA * lv.volt * 1.1 : 0
    const chargerAim = chain.bms === BMS.charging ? driver.chargeA : 0
    chargerA += Math.max(-20 * dt, Math.min(4 * dt, chargerAim - chargerA))
    pack.joints(timeS)
    const { inside } = pack
    let amps = 0
    if (contacts.main) {
      const load = pack.currentFor(
        inverterW + auxiliaryW - chargerA * link.volt + link.leakA * link.volt,
        pathOhm,
      )
      amps = load + link.follow(dt, inside - (pack.cellsOhm + pack.linksOhm + pathOhm) * load)
    } else if (contacts.precharge) amps = link.precharge(dt, inside)
    else link.discharge(dt, chain.idle, link.volt > 5 ? inverterW + auxiliaryW : 0)
    const cellsVolt = inside - (pack.cellsOhm + pack.linksOhm) * amps
    const where = car.pack.packVoltageAt
    const packVolt =
      where === 'cells' ? cellsVolt : where === 'pack-terminals' ? cellsVolt - terminalOhm * amps : link.volt

    ledger.electric(hours, packVolt, amps)
    ledger.chemicalWh += pack.openCircuit * amps * hours
    ledger.cellHeatWh +=
      (pack.cellsOhm * amps * amps + (pack.slow1Ohm * pack.x1 + pack.slow2Ohm * pack.x2) * amps) * hours
    ledger.linkHeatWh += pack.linksOhm * amps * amps * hours
    ledger.pathHeatWh += pathOhm * amps * amps * hours
    ledger.deliveredWh += (cellsVolt - pathOhm * amps) * amps * hours
    ledger.braking(dt, brakeSwitch === 1, control.request, control.heldNm)
    losses.add(amps, pack.x1, pack.x2)
    driveLossJ += lossW * dt

    // The car on its wheels.
    const { gear, wheelRadiusM, driveline } = car.road
    const driven = ((torque * gear) / wheelRadiusM) * (torque > 0 ? driveline : 1 / driveline)
    const friction = frictionNewton(car, driver.bar)
    const before = speed
    speed = Math.max(0, speed + (dt * (driven - friction - roadLoad(car, speed, slope))) / effectiveMass(car))
    const accel = (speed - before) / dt
    const metres = ((before + speed) / 2) * dt
    ledger.distanceM += metres
    ledger.wheelWh += (driven * metres) / 3600
    ledger.frictionWh += (friction * metres) / 3600
    lamp = brakeSwitch === 1 || (accel < (lamp ? -0.75 : -1.1) && torque < -5) ? 1 : 0

    at.pack_voltage[i] = packVolt
    at.pack_current[i] = amps
    at.link_voltage[i] = link.volt
    at.inverter_dc_current[i] = inverterW / Math.max(50, link.volt)
    at.contactor_precharge[i] = at.contactor_precharge_command[i] = chain.precharge
    at.contactor_positive[i] = at.contactor_positive_command[i] = chain.positive
    at.contactor_negative[i] = at.contactor_negative_command[i] = chain.negative
    at.contactor_positive_feedback[i] = contacts.positive ? 1 : 0
    at.contactor_negative_feedback[i] = contacts.negative ? 1 : 0
    at.key_on[i] = key ? 1 : 0
    at.charge_plug[i] = chain.plug
    at.interlock_closed[i] = chain.interlock
    at.inertia_closed[i] = chain.inertia
    at.drive_ready[i] = chain.ready
    at.selector[i] = driver.selector
    at.brake_switch[i] = brakeSwitch
    at.brake_lamp[i] = lamp
    at.coolant_pump[i] = key ? 1 : 0
    at.bms_state[i] = chain.bms
    at.inverter_state[i] = chain.inverter
    at.bms_faults[i] = chain.bmsFaults
    at.inverter_faults[i] = chain.inverterFaults
    at.pedal_track_1[i] = pedal.volt[0]!
    at.pedal_track_2[i] = pedal.volt[1]!
    at.pedal_position[i] = driver.travel * 100
    at.brake_pressure[i] = control.signalBar + car.brake.sensorZeroBar
    at.speed[i] = speed * 3.6
    at.motor_speed[i] = (omega * 30) / Math.PI
    at.torque_request[i] = control.request
    at.torque[i] = torque
    at.acceleration[i] = accel
    at.gradient[i] = slope * 100
    at.lv_voltage[i] = lv.volt
    at.dcdc_current[i] = lv.dcdcA
    at.heater_current[i] = on ? car.heaterW / link.volt : 0
    at.charger_current[i] = chargerA
    at.charger_voltage[i] = chargerA > 0 ? link.volt : 0
    at.isolation_resistance[i] = monitor.kohm
    at.charge_limit[i] = limits.chargeA
    at.discharge_limit[i] = limits.dischargeA
    x1[i] = pack.x1
    x2[i] = pack.x2
    dischargedAh[i] = pack.dischargedAh
    pack.step(dt, amps)

    chain.step({
      timeS,
      key,
      plugged: driver.plugged,
      brake: brakeSwitch === 1,
      selector: driver.selector,
      pedalReleased: driver.travel < 0.03,
      lvVolt: lv.volt,
      isolationKohm: monitor.kohm,
      isolationSettled: monitor.settled,
      packVolt: inside,
      linkVolt: link.volt,
    })
  }
  ledger.slowStoreWh = pack.slowStoreJ / 3600
  const cut = (values: Float64Array): Float64Array => values.subarray(0, i)
  return {
    car,
    pack: packParts,
    faults,
    length: i,
    at: Object.fromEntries(TRACED.map((id) => [id, cut(at[id])])) as Record<Traced, Float64Array>,
    x1: cut(x1),
    x2: cut(x2),
    dischargedAh: cut(dischargedAh),
    moduleC: heatLog.moduleC.map((celsius) => heatLog.cut(celsius)),
    sensorC: heatLog.sensorC.map((celsius) => heatLog.cut(celsius)),
    coolantInC: heatLog.cut(heatLog.coolantInC),
    coolantOutC: heatLog.cut(heatLog.coolantOutC),
    inverterC: heatLog.cut(heatLog.inverterC),
    motorC: heatLog.cut(heatLog.motorC),
    ledger,
    runaways: control.runaways.spells,
  }
}
