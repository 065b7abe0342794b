/**
 * Faults as plain data. Cells, modules and sensors count from 1; times are seconds of the drive; a fault without
 * times is there throughout. Where a sign matters it is said.
 */
export interface Window {
  readonly fromS?: number
  readonly toS?: number
}

export type StartBlock =
  | 'interlock-open'
  | 'inertia-open'
  | 'plug-in'
  | 'battery-fault'
  | 'inverter-off'
  | 'selector-not-neutral'
  | 'brake-not-pressed'
  | 'pedal-pressed'
  | 'negative-stays-open'
  | 'positive-stays-open'
  | 'no-key'

/**
 * - `stuck`: stays at its value (at least `nm`) when the pedal is released above 20 km/h
 * - `with-brake`: `nm` while the brake is pressed and the car moves
 * - `rising`: `nm` with both pedals released below 15 km/h, on and on: speed leaves the creep range
 * - `low-speed`: `nm` with the pedal released below 25 km/h
 * - `coasting`: `nm` with the pedal released above 25 km/h
 * - `beyond-request`: `nm` more than was asked; the request does not show it
 * - `opposite`: the other way round than was asked
 */
export type RunawayWay =
  | 'stuck'
  | 'with-brake'
  | 'rising'
  | 'low-speed'
  | 'coasting'
  | 'beyond-request'
  | 'opposite'

export type DriveTemperature = 'inverter_temperature' | 'motor_temperature'

export type Fault =
  /** Extra ohms at the joint that is read with `cell`; with `onS`/`offS` it comes and goes. */
  | ({ kind: 'joint'; cell: number; ohm: number; onS?: number; offS?: number } & Window)
  /**
   * All resistances times `ratio`, capacity times `capacity` (default 1). `part`: only its charge transfer or only its
   * ohmic part (second model; the first has one resistance and its slow parts, and scales all).
   */
  | {
      kind: 'weak-cell'
      cell: number
      ratio: number
      capacity?: number
      part?: 'kinetics' | 'ohmic' | 'both'
    }
  /** `missing` of the parallel cells are open. */
  | { kind: 'parallel-open'; cell: number; missing: number }
  /** The lead between `cell` and the next drops: `cell` reads `volt` more, the next `volt` less. */
  | ({ kind: 'sense-lead'; cell: number; volt: number } & Window)
  /** The tap between `cell` and the next sits on the far side: `ohm` moves from `cell` to the next (negative: back). */
  | { kind: 'tap-misplaced'; cell: number; ohm: number }
  /** State of charge apart from the rest by `soc` (−0.02 = two points lower). */
  | { kind: 'imbalance'; cell: number; soc: number }
  | ({ kind: 'cell-frozen'; cell: number } & Window)
  /** Reads `value` volt. */
  | ({ kind: 'cell-invalid'; cell: number; value: number } & Window)
  /** Thermal resistance to the coolant times `factor`. */
  | { kind: 'cooling'; module: number; factor: number }
  /** Coolant flow times `share`. */
  | ({ kind: 'coolant-flow'; share: number } & Window)
  | ({ kind: 'temperature-frozen'; sensor: number } & Window)
  | ({ kind: 'temperature-open'; sensor: number; value: number } & Window)
  /** The inverter's or the motor's temperature stands still, or reads `value`. */
  | ({ kind: 'drive-temperature-frozen'; channel: DriveTemperature } & Window)
  | ({ kind: 'drive-temperature-open'; channel: DriveTemperature; value: number } & Window)
  /** Plugs of two sensors swapped, counted over the pack. */
  | { kind: 'temperature-swapped'; sensors: readonly [number, number] }
  /** `points` of travel away, ramped in and out over a tenth of its time; `track` default 2. */
  | ({ kind: 'pedal-drift'; points: number; track?: 1 | 2 } & Window)
  /** Square jump of `points` for `lenS` at `atS`. */
  | { kind: 'pedal-blip'; points: number; atS: number; lenS: number; track?: 1 | 2 }
  | ({ kind: 'pedal-out-of-range'; volt: number; track?: 1 | 2 } & Window)
  /** Both tracks' wires together: each reads their mean. */
  | ({ kind: 'pedal-short' } & Window)
  /** Torque that nobody asked for, in the ways of the contract's rule. */
  | { kind: 'runaway'; way: RunawayWay; nm: number; atS: number; lenS: number }
  /** A module makes heat by itself, so much that it would warm by `kelvinMin` a minute with nothing leaving it. */
  | ({ kind: 'self-heating'; module: number; kelvinMin: number } & Window)
  /** A cell loses `amps` inside, at rest too. */
  | { kind: 'self-discharge'; cell: number; amps: number }
  /** Drive torque with the pedal released. */
  | { kind: 'torque-without-pedal'; nm: number; atS: number; lenS: number }
  /** A load across the link. */
  | { kind: 'precharge-load'; ohm: number }
  | { kind: 'precharge-open' }
  | { kind: 'precharge-short'; ohm: number }
  /** A worn main contactor: extra ohms in the main path. */
  | { kind: 'contactor-resistance'; ohm: number }
  | { kind: 'contactor-welded'; pole: 'both' | 'positive' | 'negative' }
  /** Contactors drop out at `atS`, whatever the current. */
  | { kind: 'contactor-opened'; atS: number }
  /** A step of the start chain that fails, at the start or, with `fromS`, while driving. */
  | ({ kind: StartBlock } & Window)
  /** 12 V system at `volt`. */
  | ({ kind: 'lv-low'; volt: number } & Window)
  /** Leak to chassis, on the battery side or the link (inverter) side of the contactors. */
  | ({ kind: 'isolation'; kohm: number; side: 'battery' | 'link' } & Window)
  | ({ kind: 'dcdc-off' } & Window)
  /** Regeneration begins only at `bar`. */
  | { kind: 'regen-dead-band'; bar: number }
  /** Regeneration jumps by `nm` at `bar`. */
  | { kind: 'regen-step'; bar: number; nm: number }
  /** The battery takes only `amps` back. */
  | { kind: 'regen-limited'; amps: number }
  /** Regeneration follows the pressure with an extra `s` seconds of lag. */
  | { kind: 'regen-lag'; s: number }
  /** The brake signal stays at its zero. */
  | ({ kind: 'brake-signal-missing' } & Window)
  /** Nothing from this node (a reading's `node`). */
  | ({ kind: 'node-silent'; node: string } & Window)
  /** No rows from this box (all boxes where none is named). */
  | ({ kind: 'log-gap'; box?: string } & Window)

export type FaultOf<K extends Fault['kind']> = Extract<Fault, { kind: K }>

export function faultsOf<K extends Fault['kind']>(faults: readonly Fault[], kind: K): FaultOf<K>[] {
  return faults.filter((fault): fault is FaultOf<K> => fault.kind === kind)
}

/** Is the fault there at this moment? */
export function active(window: Window, timeS: number): boolean {
  return (
    timeS >= (window.fromS ?? Number.NEGATIVE_INFINITY) && timeS < (window.toS ?? Number.POSITIVE_INFINITY)
  )
}
