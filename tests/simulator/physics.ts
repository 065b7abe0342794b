import { driveLoss, frictionNewton, RegenMap, roadLoad, torqueCeiling } from './brakes.ts'
import type { Car } from './car.ts'
import { Driver, type DriverOptions, effectiveMass } from './driver.ts'
import { active, type Fault, faultsOf } from './faults.ts'
import { Heat, ModuleLosses } from './heat.ts'
import { Link } from './link.ts'
import { arrhenius, makePack, sumOpenCircuit } from './pack.ts'
import { PedalTracks, pedalTorque } from './pedal.ts'
import type { Random } from './random.ts'
import type { Route } from './route.ts'
import { INVERTER, StartChain } from './start-chain.ts'
import { IsolationMonitor, LowVoltage } from './supplies.ts'
import { HEAT_STEP_S, type Ledger, STEP_S, TRACED, type Trace, type Traced } from './trace.ts'

/**
 * Runs the true drive in steps of 10 ms: driver → start chain → torque → car → power → pack → heat.
 *
 * Pack with the main path closed: the load P (inverter, DC-DC) at the link gives
 *
 *     I = (E − √(E² − 4 R P)) / (2 R),   E = Σ U − slow parts,   R = Σ cells + joints + links + path
 *
 * plus C dV/dt of the link's capacitor. Slow parts and the motor's torque follow by exact first-order steps. Car:
 * 1.04 m dv/dt = driven force − friction − road load; it never rolls backwards.
 */
export function runPhysics(
  car: Car,
  faults: readonly Fault[],
  route: Route | null,
  driverOptions: DriverOptions,
  random: Random,
): Trace {
  const dt = STEP_S
  const pack = makePack(car, faults, random.fork('pack'))
  const modules = car.pack.cellsPerModule.length
  const heat = new Heat(car, faults, random.fork('heat'))
  const losses = new ModuleLosses(pack, modules)
  const sums = losses.sums()
  const link = new Link(car, faults)
  const chain = new StartChain(car, faults)
  const regen = new RegenMap(car, faults)
  const driver = new Driver(car, route, regen, driverOptions, random.fork('driver'))
  const pedal = new PedalTracks(car, faults, random.fork('pedal'))
  const lv = new LowVoltage(car, faults)
  const monitor = new IsolationMonitor(car, faults)
  const welds = faultsOf(faults, 'contactor-welded')
  const stuckOpen = (kind: 'negative-stays-open' | 'positive-stays-open', timeS: number): boolean =>
    faults.some((fault) => fault.kind === kind && active(fault, timeS))
  const wornOhm = faultsOf(faults, 'contactor-resistance').reduce((sum, fault) => sum + fault.ohm, 0)
  const terminalOhm = (0.6 * car.pack.pathMohm) / 1000
  const pathOhm = car.pack.pathMohm / 1000 + wornOhm
  const chargeLimitA = Math.min(
    car.pack.chargeLimitA,
    ...faultsOf(faults, 'regen-limited').map((fault) => fault.amps),
  )
  const lagS = car.brake.filterS + faultsOf(faults, 'regen-lag').reduce((sum, fault) => sum + fault.s, 0)
  const delaySteps = Math.max(1, Math.round(car.brake.delayS / dt))
  const delayed = new Float64Array(delaySteps)
  const blips = faultsOf(faults, 'torque-without-pedal')

  const routeS = route ? route.speed.length * route.stepS : 0
  const longest =
    routeS + driverOptions.keyOnS + (driverOptions.attempts + 2) * 70 + driverOptions.restS + 120
  const room = Math.ceil(longest / dt)
  const at = Object.fromEntries(TRACED.map((id) => [id, new Float64Array(room)])) as Record<
    Traced,
    Float64Array
  >
  const x1s = new Float64Array(room)
  const x2s = new Float64Array(room)
  const dischargedAhs = new Float64Array(room)
  const heatRoom = Math.ceil(longest / HEAT_STEP_S) + 2
  const moduleC = Array.from({ length: modules }, () => new Float64Array(heatRoom))
  const sensors = modules * car.heat.sensorsPerModule
  const sensorC = Array.from({ length: sensors }, () => new Float64Array(heatRoom))
  const sensorOffset = Float64Array.from({ length: sensors }, () => 0.35 * random.normal())
  const coolantInC = new Float64Array(heatRoom)
  const coolantOutC = new Float64Array(heatRoom)
  const inverterC = new Float64Array(heatRoom)
  const motorC = new Float64Array(heatRoom)

  const ledger: Ledger = {
    outWh: 0,
    inWh: 0,
    ahOut: 0,
    ahIn: 0,
    chemicalWh: 0,
    cellHeatWh: 0,
    slowStoreWh: 0,
    linkHeatWh: 0,
    pathHeatWh: 0,
    deliveredWh: 0,
    wheelWh: 0,
    frictionWh: 0,
    distanceM: 0,
  }
  const decay1 = Math.exp(-dt / car.pack.slowS[0])
  const decay2 = Math.exp(-dt / car.pack.slowS[1])
  const f0 = new Float64Array(modules)
  const f1 = new Float64Array(modules)
  const ohms = { cells: 0, slow1: 0, slow2: 0, links: sums.link.reduce((a, b) => a + b, 0) }
  const byTemperature = (): void => {
    ohms.cells = ohms.slow1 = ohms.slow2 = 0
    for (let m = 0; m < modules; m++) {
      f0[m] = arrhenius(car.pack.ohmicArrheniusK, heat.moduleC[m]!)
      f1[m] = arrhenius(car.pack.slowArrheniusK, heat.moduleC[m]!)
      ohms.cells += f0[m]! * sums.ohmic[m]!
      ohms.slow1 += f1[m]! * sums.slow1[m]!
      ohms.slow2 += f1[m]! * sums.slow2[m]!
    }
  }
  byTemperature()
  let x1 = 0
  let x2 = 0
  let dischargedAh = 0
  let emf = sumOpenCircuit(car, pack, 0)
  let amps = 0
  let packVolt = emf
  let speed = 0
  let torque = 0
  let sensedBar = 0
  let brakeSwitch = 0
  let lamp = 0
  let squares = 0
  let squares1 = 0
  let squares2 = 0
  let driveWatt = 0
  let heatAt = 0
  const heatEvery = Math.round(HEAT_STEP_S / dt)
  let i = 0
  for (; i < room && !driver.done; i++) {
    const timeS = i * dt
    if (i % heatEvery === 0) {
      if (i > 0) {
        const n = heatEvery
        losses.update(f0, f1, squares / n, squares1 / n, squares2 / n, timeS)
        heat.step(HEAT_STEP_S, timeS, driver.key, losses.watt, driveWatt / n)
        squares = squares1 = squares2 = driveWatt = 0
        byTemperature()
      }
      recordHeat()
    }
    const slope = route ? route.slopeAt(ledger.distanceM) : 0
    driver.step(dt, {
      timeS,
      speedMs: speed,
      slope,
      ready: chain.ready === 1,
      inverterReady: chain.inverter >= INVERTER.ready,
    })
    const key = driver.key && !faults.some((fault) => fault.kind === 'no-key' && active(fault, timeS))
    brakeSwitch = driver.bar > car.brake.switchBar + (brakeSwitch ? -0.4 : 0.2) ? 1 : 0
    pedal.step(timeS, driver.travel)
    const weldedAll = welds.some((weld) => weld.pole === 'both')
    const positive =
      weldedAll || welds.some((weld) => weld.pole === 'positive')
        ? 1
        : stuckOpen('positive-stays-open', timeS)
          ? 0
          : chain.positive
    const negative =
      weldedAll || welds.some((weld) => weld.pole === 'negative')
        ? 1
        : stuckOpen('negative-stays-open', timeS)
          ? 0
          : chain.negative
    const main = positive === 1 && negative === 1
    const first = car.precharge.layout === 'positive' ? negative : positive
    const charging = !main && first === 1 && chain.precharge === 1
    lv.step(dt, timeS, key, main && chain.inverter >= INVERTER.powered, [
      chain.negative,
      chain.positive,
      chain.precharge,
    ])
    monitor.step(dt, timeS, key && lv.volt > 7, positive === 1 || negative === 1)

    // Torque: the pedal's or the brake's wish, within motor and battery.
    const kmh = speed * 3.6
    const omega = (speed / car.road.wheelRadiusM) * car.road.gear
    const ceiling = torqueCeiling(car, omega)
    const signal = faultsOf(faults, 'brake-signal-missing').some((fault) => active(fault, timeS))
      ? 0
      : driver.bar
    const slot = i % delaySteps
    const arrived = delayed[slot]!
    delayed[slot] = signal
    sensedBar += (arrived - sensedBar) * (lagS > 0 ? 1 - Math.exp(-dt / lagS) : 1)
    const lift = regen.liftTorque(kmh)
    const press = regen.pressTorque(sensedBar, kmh)
    let request = 0
    if (chain.ready === 1 && driver.selector !== 0)
      request = pedalTorque(driver.travel, lift, ceiling) - (driver.travel < 0.06 ? press : 0)
    for (const blip of blips)
      if (chain.ready === 1 && timeS >= blip.atS && timeS < blip.atS + blip.lenS) request = blip.nm
    let allowed = Math.max(-ceiling, Math.min(ceiling, request))
    if (allowed < 0 && omega > 1) {
      const most = (chargeLimitA - 2) * packVolt + driveLoss(allowed, omega)
      allowed = Math.max(allowed, -most / omega)
    }
    torque += (allowed - torque) * (1 - Math.exp(-dt / (chain.ready === 1 ? 0.04 : 0.012)))
    if (chain.ready === 0 && Math.abs(torque) < 0.05) torque = 0

    // Power at the link and the pack's answer.
    const turning = chain.inverter >= INVERTER.powered || Math.abs(torque) > 0.05
    const loss = turning ? driveLoss(torque, omega) : 0
    const mechanical = torque * omega
    let inverterW = main && turning ? mechanical + loss : 0
    if (main && inverterW < -chargeLimitA * packVolt) inverterW = -chargeLimitA * packVolt
    const auxiliaryW =
      main && chain.inverter >= INVERTER.powered ? car.auxiliaryW + lv.dcdcA * lv.volt * 1.1 : 0
    const loadW = main ? inverterW + auxiliaryW + link.leakA * link.volt : 0
    let joints = 0
    for (const joint of pack.faultJoints) if (joint.present(timeS)) joints += joint.ohm
    const inside = emf - ohms.slow1 * x1 - ohms.slow2 * x2
    const cellsOhm = ohms.cells + ohms.links + joints
    const allOhm = cellsOhm + pathOhm
    if (main) {
      const under = Math.max(0, inside * inside - 4 * allOhm * loadW)
      const load = (inside - Math.sqrt(under)) / (2 * allOhm)
      amps = load + link.follow(dt, inside - allOhm * load)
    } else if (charging) amps = link.precharge(dt, inside)
    else {
      link.discharge(dt, chain.inverter === INVERTER.off && !driver.key)
      amps = 0
    }
    const cellsVolt = inside - cellsOhm * amps
    const terminal = cellsVolt - terminalOhm * amps
    packVolt =
      car.pack.packVoltageAt === 'cells'
        ? cellsVolt
        : car.pack.packVoltageAt === 'pack-terminals'
          ? terminal
          : link.volt

    // Books.
    const stepH = dt / 3600
    const power = packVolt * amps
    if (amps > 0) {
      ledger.outWh += power * stepH
      ledger.ahOut += amps * stepH
    } else {
      ledger.inWh -= power * stepH
      ledger.ahIn -= amps * stepH
    }
    ledger.chemicalWh += emf * amps * stepH
    ledger.cellHeatWh += (ohms.cells * amps * amps + ohms.slow1 * x1 * amps + ohms.slow2 * x2 * amps) * stepH
    ledger.linkHeatWh += (ohms.links + joints) * amps * amps * stepH
    ledger.pathHeatWh += pathOhm * amps * amps * stepH
    ledger.deliveredWh += (cellsVolt - pathOhm * amps) * amps * stepH
    squares += amps * amps
    squares1 += x1 * x1
    squares2 += x2 * x2
    driveWatt += loss

    // The car on its wheels.
    const road = car.road
    const perNm = road.gear / road.wheelRadiusM
    const driven = torque * perNm * (torque > 0 ? road.driveline : 1 / road.driveline)
    const friction = frictionNewton(car, driver.bar)
    const resist = friction + roadLoad(car, speed, slope)
    const before = speed
    speed = Math.max(0, speed + (dt * (driven - resist)) / effectiveMass(car))
    const accel = (speed - before) / dt
    ledger.distanceM += ((before + speed) / 2) * dt
    ledger.wheelWh += driven * before * stepH
    ledger.frictionWh += friction * before * stepH
    lamp = brakeSwitch === 1 || (accel < (lamp ? -0.75 : -1.1) && torque < -5) ? 1 : 0

    at.pack_voltage[i] = packVolt
    at.pack_current[i] = amps
    at.link_voltage[i] = link.volt
    at.inverter_dc_current[i] = main ? inverterW / Math.max(50, link.volt) : 0
    at.contactor_precharge[i] = at.contactor_precharge_command[i] = chain.precharge
    at.contactor_positive[i] = at.contactor_positive_command[i] = chain.positive
    at.contactor_negative[i] = at.contactor_negative_command[i] = chain.negative
    at.contactor_positive_feedback[i] = positive
    at.contactor_negative_feedback[i] = negative
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
    at.pedal_position[i] = Math.max(0, Math.min(100, driver.travel * 100))
    at.brake_pressure[i] = signal + car.brake.sensorZeroBar
    at.speed[i] = speed * 3.6
    at.motor_speed[i] = (omega * 30) / Math.PI
    at.torque_request[i] = request
    at.torque[i] = torque
    at.acceleration[i] = accel
    at.gradient[i] = slope * 100
    at.lv_voltage[i] = lv.volt
    at.dcdc_current[i] = lv.dcdcA
    at.isolation_resistance[i] = monitor.kohm
    at.charge_limit[i] = chargeLimitA
    at.discharge_limit[i] = car.pack.dischargeLimitA
    x1s[i] = x1
    x2s[i] = x2
    dischargedAhs[i] = dischargedAh
    x1 = amps + (x1 - amps) * decay1
    x2 = amps + (x2 - amps) * decay2
    dischargedAh += amps * stepH
    if (i % 10 === 9) emf = sumOpenCircuit(car, pack, dischargedAh)
    chain.step({
      timeS,
      key,
      brake: brakeSwitch === 1,
      selector: driver.selector,
      pedalReleased: driver.travel < 0.03,
      lvVolt: lv.volt,
      isolationKohm: monitor.trueKohm,
      isolationSettled: monitor.settled,
      packVolt: inside,
      linkVolt: link.volt,
      moving: speed > 0.1,
    })
  }
  ledger.slowStoreWh =
    (ohms.slow1 * car.pack.slowS[0] * x1 * x1 + ohms.slow2 * car.pack.slowS[1] * x2 * x2) / 2 / 3600
  recordHeat()
  const cut = (values: Float64Array): Float64Array => values.subarray(0, i)
  const cutHeat = (values: Float64Array): Float64Array => values.subarray(0, heatAt)
  return {
    car,
    pack,
    faults,
    length: i,
    at: Object.fromEntries(TRACED.map((id) => [id, cut(at[id])])) as Record<Traced, Float64Array>,
    x1: cut(x1s),
    x2: cut(x2s),
    dischargedAh: cut(dischargedAhs),
    moduleC: moduleC.map(cutHeat),
    sensorC: sensorC.map(cutHeat),
    coolantInC: cutHeat(coolantInC),
    coolantOutC: cutHeat(coolantOutC),
    inverterC: cutHeat(inverterC),
    motorC: cutHeat(motorC),
    ledger,
  }

  /** Sensors follow their place with a lag of 6 s. */
  function recordHeat(): void {
    for (let m = 0; m < modules; m++) moduleC[m]![heatAt] = heat.moduleC[m]!
    for (let s = 0; s < sensors; s++) {
      const m = Math.floor(s / car.heat.sensorsPerModule)
      const place = car.heat.sensorPlaces[s % car.heat.sensorPlaces.length]
      const module = heat.moduleC[m]!
      const plate = heat.coolantInC
      const aim =
        sensorOffset[s]! +
        (place === 'plate'
          ? 0.45 * module + 0.55 * plate
          : place === 'air'
            ? 0.5 * module + 0.5 * car.heat.ambientC
            : place === 'busbar'
              ? module + (losses.watt[m]! * 0.9) / 60
              : module)
      const before = heatAt > 0 ? sensorC[s]![heatAt - 1]! : aim
      sensorC[s]![heatAt] = before + (aim - before) * (1 - Math.exp(-HEAT_STEP_S / 6))
    }
    coolantInC[heatAt] = heat.coolantInC
    coolantOutC[heatAt] = heat.coolantOutC
    inverterC[heatAt] = heat.inverterC
    motorC[heatAt] = heat.motorC
    heatAt++
  }
}
