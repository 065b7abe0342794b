import type { Channel, Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import type { BoxStyle } from '../simulator/boxes.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCar } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'

/**
 * A family of failed starts and lost drives: each step of the chain broken at the start or while driving, one or two
 * at a time, on random cars, measured by boxes of four kinds. The truth is which step the chain's order makes first.
 */
export const LAYOUTS: Readonly<Record<string, Partial<BoxStyle>>> = {
  fast: { vehicleHz: 50, switchHz: 20, cellHz: 10, currentHz: 50 },
  'ten hertz': { vehicleHz: 10, switchHz: 10, cellHz: 10, currentHz: 10 },
  'one hertz': { vehicleHz: 1, switchHz: 1, cellHz: 1, currentHz: 1 },
  events: { vehicleHz: 5, switchHz: 50, cellHz: 1, currentHz: 5, switchesOnChange: true },
}

/** Step broken → the simulator's fault, at the start (no times) or from `fromS` on. */
const BREAK: Readonly<Record<string, (random: Random, fromS?: number) => Fault>> = {
  supply: (r, fromS) => ({ kind: 'lv-low', volt: r.between(8, 9.8), ...at(fromS) }),
  plug: (_, fromS) => ({ kind: 'plug-in', ...at(fromS) }),
  interlock: (_, fromS) => ({ kind: 'interlock-open', ...at(fromS) }),
  inertia: (_, fromS) => ({ kind: 'inertia-open', ...at(fromS) }),
  battery: (_, fromS) => ({ kind: 'battery-fault', ...at(fromS) }),
  negative: () => ({ kind: 'negative-stays-open' }),
  precharge: (r) =>
    r.chance(0.4) ? { kind: 'precharge-open' } : { kind: 'precharge-load', ohm: r.between(60, 700) },
  positive: () => ({ kind: 'positive-stays-open' }),
  inverter: (_, fromS) => ({ kind: 'inverter-off', ...at(fromS) }),
  brake: () => ({ kind: 'brake-not-pressed' }),
  selector: () => ({ kind: 'selector-not-neutral' }),
  pedal: () => ({ kind: 'pedal-pressed' }),
}

const at = (fromS?: number): { fromS?: number } => (fromS === undefined ? {} : { fromS })

export const AT_START = [
  'supply',
  'plug',
  'interlock',
  'inertia',
  'battery',
  'precharge',
  'inverter',
  'brake',
  'selector',
  'pedal',
]
export const WHILE_DRIVING = ['supply', 'plug', 'interlock', 'inertia', 'battery', 'inverter']

/** Chain order, for the truth of two at a time. */
export const ORDER = [
  'supply',
  'key',
  'plug',
  'interlock',
  'inertia',
  'battery',
  'isolation',
  'negative',
  'precharge',
  'positive',
  'inverter',
  'brake',
  'selector',
  'pedal',
  'ready',
  'torque',
]

export interface FamilyCase {
  readonly name: string
  readonly drive: Drive
  readonly vehicle: Vehicle
  readonly when: 'start' | 'driving'
  /** Steps that are truly broken, in the order in which they stop the car. */
  readonly broken: readonly string[]
  readonly loadOhm: number
  readonly readyS: number | null
}

/** One case. Same arguments, same case. */
export function familyCase(
  seed: number,
  layout: string,
  when: 'start' | 'driving',
  steps: readonly string[],
  leg: 'positive' | 'negative' = seed % 3 === 0 ? 'negative' : 'positive',
): FamilyCase {
  const random = new Random(seed).fork(`${layout} ${when} ${steps.join(' ')}`)
  // Few cells keep the family quick: the chain reads their sum only.
  const cells = random.pick([
    [16, 16, 16],
    [14, 14, 14, 14],
    [24, 24, 24, 24],
  ])
  const car = randomCar(random.fork('car'), { precharge: { layout: leg }, pack: { cellsPerModule: cells } })
  const driving = when === 'driving'
  const faultS = driving ? random.between(70, 110) : undefined
  const faults = steps.map((step, i) =>
    BREAK[step]!(random, faultS === undefined ? undefined : faultS + i * random.between(1.5, 4)),
  )
  const made = simulate({
    seed: seed * 7 + 1,
    car,
    faults,
    style: { ...LAYOUTS[layout]!, held: random.chance(0.3) },
    route: driving ? { kind: 'urban', durationS: 150 } : null,
  })
  const broken = driving ? [...steps] : [...steps].sort((a, b) => ORDER.indexOf(a) - ORDER.indexOf(b))
  return {
    name: `${layout}, ${when}, ${steps.join(' + ')}, seed ${seed}`,
    drive: withPlugNamed(made.drive),
    vehicle: made.vehicle,
    when,
    broken,
    loadOhm: made.truth.precharge.loadOhm,
    readyS: made.truth.starts[0]?.readyS ?? null,
  }
}

/** As if the column were called "charge plug in": the simulator's bare name says nothing of its polarity. */
export function withPlugNamed(drive: Drive): Drive {
  const plug = drive.channels.get('charge_plug')
  if (!plug) return drive
  return {
    ...drive,
    channels: new Map([...drive.channels, ['charge_plug', { ...plug, polarity: 'as-named' as const }]]),
  }
}

/** The drive with a share of its channels gone; time is kept. */
export function withoutChannels(drive: Drive, random: Random, share: number): Drive {
  const channels = new Map<string, Channel>()
  const families = new Map<string, boolean>()
  for (const [id, channel] of drive.channels) {
    const family = id.replace(/\.\d+$/, '')
    if (!families.has(family)) families.set(family, random.chance(share))
    if (!families.get(family)) channels.set(id, channel)
  }
  return { ...drive, channels }
}
