import type { Channel } from '../../../shared/drive.ts'
import { PRESSED_BAR, RELEASED_BAR } from '../../car/brake-press.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { quantile } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { heldAt, linearAt, staleAfter } from '../../samples/on-one-clock.ts'

export const LAMP_GRID_S = 0.1
/** Regeneration may light the lamp from 0.7 m/s² on (UN R13-H 5.2.22.4), so a lit lamp is excused while it pulls. */
const REGEN_NM = -5
const REGEN_SLOWING = 0.7
/** An emergency stop signal flashes from 6 m/s² down to 2.5 m/s² (UN R13-H 5.2.23, from 50 km/h): with room below. */
const FLASHES_MS2 = 5

/** What the lamps must do on one grid: 1 lit, 0 dark, NaN either. */
export interface LampWanted {
  readonly grid: Float64Array
  readonly brake: Float64Array | null
  /** 1 where every logged witness of the brake says pressed. */
  readonly pressedByAll: Float64Array
  /** 1 where the car slows so hard that an emergency stop signal may flash. */
  readonly mayFlash: Uint8Array
  readonly reverse: Float64Array | null
}

/**
 * Model: brake lamp lit while the brake switch is on or pressure stands 3 bar above its zero, whatever the deceleration;
 * dark while neither is and the motor does not brake. Reverse lamp lit in reverse, dark otherwise.
 */
export function lampWanted(facts: Facts): LampWanted {
  const grid = heardTime(facts.drive.channels, facts.drive.durationS).evenly(LAMP_GRID_S)
  const contact = channel(facts, 'brake_switch')
  const pressed = contact && contact.polarity !== null ? heldAt(contact, grid, staleAfter(contact)) : null
  const bar = pressure(channel(facts, 'brake_pressure') ?? channel(facts, 'brake_pressure_front'), grid)
  const slowing = slowingAt(facts, grid)
  return {
    grid,
    brake: pressed || bar ? brakeWanted(facts, grid, pressed, bar, slowing) : null,
    pressedByAll: grid.map((_, i) => {
      const all = [pressed, bar].filter((each) => each !== null).map((each) => each[i]!)
      return all.length > 0 && all.every((each) => each === 1) ? 1 : 0
    }),
    mayFlash: Uint8Array.from(slowing, (ms2) => (ms2 > FLASHES_MS2 ? 1 : 0)),
    reverse: reverseWanted(facts, grid),
  }
}

/** m/s² over the second before; NaN without a speed. */
function slowingAt(facts: Facts, grid: Float64Array): Float64Array {
  const speed = channel(facts, 'speed')
  const kmh = speed ? linearAt(speed, grid, 2) : null
  const second = Math.round(1 / LAMP_GRID_S)
  return grid.map((_, i) => (kmh && i >= second ? (kmh[i - second]! - kmh[i]!) / 3.6 : Number.NaN))
}

function brakeWanted(
  facts: Facts,
  grid: Float64Array,
  pressed: Float64Array | null,
  bar: Float64Array | null,
  slowing: Float64Array,
): Float64Array {
  const torque = channel(facts, 'torque') ?? channel(facts, 'torque_request')
  const pull = torque ? heldAt(torque, grid, 5) : null
  return grid.map((_, i) => {
    const on = pressed ? pressed[i]! : Number.NaN
    const hard = bar ? bar[i]! : Number.NaN
    if (on === 1 || hard === 1) return on === 0 ? Number.NaN : 1
    if (pull && pull[i]! < REGEN_NM) return Number.NaN
    if (slowing[i]! > REGEN_SLOWING) return Number.NaN
    return on === 0 || hard === 0 ? 0 : Number.NaN
  })
}

/** 1 pressed, 0 released, NaN between. */
function pressure(channel: Channel | undefined, grid: Float64Array): Float64Array | null {
  if (!channel) return null
  const zero = quantile(channel.values, 0.1)
  return linearAt(channel, grid, 2).map((bar) =>
    bar > zero + PRESSED_BAR ? 1 : bar < zero + RELEASED_BAR ? 0 : Number.NaN,
  )
}

function reverseWanted(facts: Facts, grid: Float64Array): Float64Array | null {
  const selector = channel(facts, 'selector')
  if (!selector) return null
  return heldAt(selector, grid, staleAfter(selector)).map((place) =>
    Number.isNaN(place) ? place : place < 0 ? 1 : 0,
  )
}
