import type { Facts } from '../facts/facts.ts'
import { type PackCurrent, packCurrent } from './pack-current.ts'
import { type PackPower, packPower } from './pack-power.ts'

/** What flows between pack and car, on the current's clock: every energy and charge is integrated from it. */
export interface PackFlow {
  readonly timeS: Float64Array
  /** A, noise near zero calmed; `amperes` is 0 while charging at the plug, `all` is not. The same where nothing charged. */
  readonly all: Float64Array
  readonly amperes: Float64Array
  /** W, of `amperes`. */
  readonly watts: Float64Array
}

/** Longer silences of current or voltage leave the integral, s. */
export const FLOW_GAP_S = 5
const WINDOW_S = 0.5

/** Gives null without current and voltage. */
export function packFlow(facts: Facts): PackFlow | null {
  const current = facts.once(packCurrent)
  const power = facts.once(packPower)
  if (!current || !power) return null
  const all = calmed(power, current)
  const amperes = withoutCharging(facts, power.timeS, all)
  return { timeS: power.timeS, all, amperes, watts: amperes.map((value, i) => value * power.volts[i]!) }
}

/** Near zero, where noise would be rectified, a half-second mean of the current; elsewhere the current itself. */
function calmed(power: PackPower, current: PackCurrent): Float64Array {
  const { timeS, amperes } = power
  const band = 3 * current.noiseA
  const out = Float64Array.from(amperes)
  let from = 0
  let to = 0
  let sum = 0
  let count = 0
  const add = (value: number, sign: 1 | -1): void => {
    if (!Number.isFinite(value)) return
    sum += sign * value
    count += sign
  }
  for (let i = 0; i < timeS.length; i++) {
    while (to < timeS.length && timeS[to]! <= timeS[i]! + WINDOW_S / 2) add(amperes[to++]!, 1)
    while (timeS[from]! < timeS[i]! - WINDOW_S / 2) add(amperes[from++]!, -1)
    if (Math.abs(amperes[i]!) < band && count > 0 && Math.abs(sum / count) < band) out[i] = sum / count
  }
  return out
}

function withoutCharging(facts: Facts, timeS: Float64Array, amperes: Float64Array): Float64Array {
  const charging = facts.drive.segments.filter((segment) => segment.type === 'charging')
  if (charging.length === 0) return amperes
  return amperes.map((value, i) =>
    charging.some(({ span_s }) => timeS[i]! >= span_s[0] && timeS[i]! < span_s[1]) ? 0 : value,
  )
}
