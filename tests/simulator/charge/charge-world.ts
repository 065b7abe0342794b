import type { Random } from '../random.ts'
import type { ChargeCar } from './charge-car.ts'

/** Steps of the chain that can be made to fail, and what a healthy car may wait for. */
export const FAILING = [
  'proximity',
  'drive-inhibit',
  'pilot',
  'duty',
  'lock',
  'battery',
  'interlock',
  'precharge',
  'contactors',
  'request',
  'state',
  'mains',
  'current',
] as const
export type FailingStep = (typeof FAILING)[number]
export const WAITING = ['timer', 'full', 'station-off'] as const
export type Waiting = (typeof WAITING)[number]

export const SLOWED = ['charger', 'pilot', 'cable'] as const
export const BROKEN = ['mains', 'station', 'contactor', 'interlock', 'fault', 'charger'] as const
export type Broken = (typeof BROKEN)[number]

/** One charge: the station and charger it has, and what goes wrong. Times are seconds after the log's start. */
export interface ChargePlan {
  readonly durationS: number
  readonly plugS: number
  readonly mainsV: number
  readonly dutyPercent: number
  readonly cableOhm: number
  readonly chargerW: number
  readonly efficiency: number
  /** Most the battery unit asks, A. */
  readonly askA: number
  readonly startSoc: number
  /** The car pulls the pilot to 6 V before its battery unit wakes. */
  readonly earlyState: boolean
  /** The charger holds the voltage and the request stays; else the battery unit takes its request back. */
  readonly chargerHoldsVoltage: boolean
  readonly ambientC: number
  readonly fails?: FailingStep
  readonly waits?: Waiting
  /** From `fromS` to `toS` so much less than before: the charger's power, the offer. */
  readonly slow?: {
    readonly by: (typeof SLOWED)[number]
    readonly fromS: number
    readonly toS: number
    readonly share: number
  }
  readonly broken?: { readonly by: Broken; readonly atS: number; readonly lastsS: number }
  /** The driver ends it: enable off, then the plug out. */
  readonly endedS?: number
  /** Isolation while the charger is on the mains, kΩ; default as without. */
  readonly pluggedKohm?: number
}

/** Channels that are written, one value a second. */
export type World = Map<string, Float64Array>

/** What truly was: the current that flowed, and what was asked, for shares and times. */
export interface ChargeTruth {
  /** Share of the time with current in which less than 93 % of what was asked came, the voltage not at its limit, %. */
  readonly slowPercent: number
  readonly intoWh: number
  readonly wallWh: number
  readonly intoAh: number
  readonly broke: { readonly fromS: number; readonly lastsS: number } | null
}

const pilotA = (duty: number): number =>
  duty < 8 || duty > 96 ? 0 : duty <= 85 ? 0.6 * duty : 2.5 * (duty - 64)
const CABLE: readonly (readonly [number, number])[] = [
  [1500, 13],
  [680, 20],
  [220, 32],
  [100, 63],
]

/** Second by second: plug, chain, current, cells; the battery unit opens and asks again after a break by itself. */
export function runCharge(
  car: ChargeCar,
  plan: ChargePlan,
  random: Random,
): { world: World; truth: ChargeTruth } {
  const n = Math.floor(plan.durationS) + 1
  const world: World = new Map()
  const write = (id: string, i: number, value: number): void => {
    if (!world.has(id)) world.set(id, new Float64Array(n))
    world.get(id)![i] = value
  }
  const soc = car.socApart.map((apart) => plan.startSoc + apart)
  const slow = new Float64Array(car.cells)
  const volts = soc.map((s) => car.restV(s))
  const cable = CABLE.find(([ohm]) => ohm === plan.cableOhm)![1]
  const { fails, waits, broken } = plan
  const blocked = (step: FailingStep): boolean =>
    fails !== undefined && FAILING.indexOf(fails) <= FAILING.indexOf(step)
  const delay = (low: number, high: number): number => random.between(low, high)
  const lockS = plan.plugS + delay(1, 3)
  const dutyS = plan.plugS + delay(2, 6)
  const wakeS = plan.plugS + delay(3, 7)
  const prechargeS = wakeS + delay(2, 4)
  const closedS = prechargeS + Math.max(1, car.prechargeS) + delay(0.5, 1.5)
  const requestS = closedS + delay(1, 2)
  const stateS = plan.earlyState ? dutyS + delay(0, 1) : requestS + delay(1, 2)
  const mainsS = Math.max(stateS, dutyS) + delay(1, 3)
  const currentS = Math.max(mainsS, requestS) + delay(2, 5)
  const outS = plan.endedS === undefined ? Infinity : plan.endedS + 40
  let amps = 0
  let ask = plan.askA
  let chargerC = plan.ambientC + 3
  let packC = plan.ambientC + 2
  let brokeFrom = Number.NaN
  let done = false
  let under = 0
  let asked = 0
  let intoWh = 0
  let wallWh = 0
  let intoAh = 0
  let brokeTo = Number.NaN
  const auxA = delay(0.3, 1)
  const reactS = random.pick([0, 1, 2])
  for (let i = 0; i < n; i++) {
    const t = i
    const plugged = t >= plan.plugS && t < outS
    const ended = plan.endedS !== undefined && t >= plan.endedS
    const broke = broken && t >= broken.atS && t < broken.atS + broken.lastsS ? broken.by : null
    // the battery unit acts on what it sees a moment later
    const seen = broken && t >= broken.atS + reactS && t < broken.atS + broken.lastsS ? broken.by : null
    const recovering = broken && t >= broken.atS + broken.lastsS && t < broken.atS + broken.lastsS + 1
    const dead = waits === 'station-off'
    const works = (step: FailingStep, from: number): boolean =>
      plugged && !ended && !done && waits === undefined && t >= from && !blocked(step)
    // station
    const sees = plugged && !dead && fails !== 'proximity'
    const offers = sees && t >= dutyS && fails !== 'pilot' && fails !== 'duty' && broke !== 'station'
    const state = works('pilot', stateS) && fails !== 'duty' && !blockedState() && broke !== 'station'
    function blockedState(): boolean {
      if (fails === 'state') return true
      return !plan.earlyState && fails !== undefined && FAILING.indexOf(fails) < FAILING.indexOf('state')
    }
    const mains = state && offers && t >= mainsS && fails !== 'mains' && broke !== 'mains'
    // car
    const wants =
      plugged && !ended && !done && waits === undefined && fails !== 'proximity' && fails !== 'drive-inhibit'
    const awake = wants && t >= wakeS && fails !== 'battery'
    const locked = plugged && t >= lockS && fails !== 'lock' && fails !== 'proximity' && !ended
    const loop = fails !== 'interlock' && broke !== 'interlock'
    const faulty = broke === 'fault'
    const before = (step: FailingStep): boolean =>
      fails !== undefined && FAILING.indexOf(fails) < FAILING.indexOf(step)
    const may =
      awake &&
      loop &&
      !faulty &&
      !['pilot', 'duty', 'lock'].includes(fails ?? '') &&
      broke !== 'mains' &&
      broke !== 'station'
    const tries = may && t >= prechargeS && t < closedS
    const closed =
      may && t >= closedS && !before('request') && broke !== 'contactor' && fails !== 'contactors'
    const requests =
      (closed || (broke === 'contactor' && seen === null)) && t >= requestS && fails !== 'request'
    if (recovering) amps = 0
    // request: held back as the highest cell nears its top
    const highest = volts.reduce((top, volt) => Math.max(top, volt), 0)
    if (!plan.chargerHoldsVoltage) {
      const over = highest - (car.maxV - 0.012)
      ask = Math.max(0, Math.min(plan.askA, ask - over * plan.askA * 0.6))
    }
    const packV = volts.reduce((sum, volt) => sum + volt, 0)
    const limitV = packV + (car.maxV - 0.012 - highest) * car.cells
    const slowed = plan.slow && t >= plan.slow.fromS && t < plan.slow.toS ? plan.slow : null
    const duty = slowed?.by === 'pilot' ? plan.dutyPercent * slowed.share : plan.dutyPercent
    const wallA = Math.min(pilotA(duty), cable)
    const watts = Math.min(
      slowed?.by === 'charger' ? plan.chargerW * slowed.share : plan.chargerW,
      wallA * plan.mainsV * plan.efficiency,
    )
    const room = plan.chargerHoldsVoltage
      ? amps + ((limitV - packV) / car.cells / car.ohm[0]!) * 0.15
      : Infinity
    const aim =
      requests && closed && mains && t >= currentS && fails !== 'current' && broke !== 'charger'
        ? Math.max(0, Math.min(ask, watts / packV, room))
        : 0
    amps = aim === 0 ? 0 : amps + Math.max(-30, Math.min(6, aim - amps))
    if (amps > 0 && amps < 0.03 * car.capacityAh[0]!) done = true
    const packA = closed ? amps - auxA : 0
    for (let k = 0; k < car.cells; k++) {
      soc[k]! += packA / 3600 / car.capacityAh[k]!
      slow[k]! += (packA - slow[k]!) / car.slowS
      volts[k] = car.restV(soc[k]!) + packA * car.ohm[k]! + slow[k]! * car.slowOhm[k]!
    }
    chargerC +=
      (plan.ambientC + 3 + (slowed?.by === 'charger' ? 55 : 30) * (amps > 0 ? 1 : 0) - chargerC) / 600
    packC += (packA * packA * car.ohm[0]! * car.cells) / 9e6 - (packC - plan.ambientC) / 40_000
    if (amps >= 1) {
      asked++
      const atTop = plan.chargerHoldsVoltage && highest > car.maxV - 0.02
      if (!atTop && amps < 0.93 * ask) under++
    }
    const sumV = volts.reduce((sum, volt) => sum + volt, 0)
    const mainsA = amps > 0 ? (amps * sumV) / plan.efficiency / plan.mainsV : 0
    intoWh += (packA * sumV) / 3600
    intoAh += packA / 3600
    wallWh += (mainsA * plan.mainsV) / 3600
    if (broken && t >= broken.atS && Number.isNaN(brokeFrom) && amps === 0) brokeFrom = t
    if (!Number.isNaN(brokeFrom) && Number.isNaN(brokeTo) && amps >= 1) brokeTo = t
    // what is written
    write('key_on', i, 0)
    write('speed', i, 0)
    write('drive_ready', i, fails === 'drive-inhibit' && plugged ? 1 : 0)
    write('charge_plug', i, plugged ? 1 : 0)
    write('proximity_resistance', i, plugged && fails !== 'proximity' ? plan.cableOhm : 98_000)
    write(
      'pilot_voltage',
      i,
      dead || !plugged
        ? 0
        : broke === 'station'
          ? 0
          : fails === 'pilot' || fails === 'proximity'
            ? 12
            : state
              ? 6
              : 9,
    )
    write('pilot_duty', i, offers ? duty : dead || !plugged || broke === 'station' ? 0 : 100)
    write('charge_lock', i, locked ? 1 : 0)
    write('charge_enable', i, wants && t >= wakeS && !faulty ? 1 : 0)
    write(
      'bms_state',
      i,
      faulty
        ? car.states.fault
        : !awake
          ? fails === 'battery' || !plugged || t < wakeS
            ? car.states.asleep
            : car.states.waiting
          : closed
            ? car.states.charging
            : tries
              ? car.states.precharge
              : car.states.waiting,
    )
    write('interlock_closed', i, loop ? 1 : 0)
    write('contactor_precharge', i, tries ? 1 : 0)
    write('contactor_negative', i, tries || closed ? 1 : 0)
    write('contactor_positive', i, closed ? 1 : 0)
    const share = tries ? Math.min(fails === 'precharge' ? 0.55 : 0.98, (t - prechargeS + 1) / 2) : 0
    write('link_voltage', i, closed ? sumV : share * sumV)
    write('charge_current_request', i, requests ? ask : 0)
    write('charge_voltage_request', i, requests ? (car.maxV - 0.012) * car.cells : 0)
    write('mains_voltage', i, mains ? plan.mainsV : 0)
    write('mains_current', i, mainsA)
    write('charger_current', i, amps)
    write('charger_voltage', i, amps > 0 ? sumV : 0)
    write('charger_temperature', i, chargerC)
    write('pack_current', i, -packA)
    write('pack_voltage', i, sumV)
    const middle = soc[car.cells >> 1]!
    write('soc', i, 100 * Math.min(1, waits === 'full' ? 0.995 : middle))
    write('isolation_resistance', i, mains && plan.pluggedKohm !== undefined ? plan.pluggedKohm : 2600)
    for (let k = 0; k < car.cells; k++) write(`cell_voltage.${k + 1}`, i, volts[k]!)
    for (let m = 0; m < car.sensors; m++) write(`module_temperature.${m + 1}`, i, packC + 0.2 * (m % 3))
  }
  return {
    world,
    truth: {
      slowPercent: asked === 0 ? 0 : (100 * under) / asked,
      intoWh,
      wallWh,
      intoAh,
      broke: Number.isNaN(brokeFrom)
        ? null
        : { fromS: brokeFrom, lastsS: (Number.isNaN(brokeTo) ? n - 1 : brokeTo) - brokeFrom },
    },
  }
}
