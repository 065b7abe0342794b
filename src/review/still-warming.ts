import { numberText } from '../../shared/wording.ts'
import { packCurrent } from '../car/pack-current.ts'
import { INSIDE_BOX } from '../facts/cautions.ts'
import type { Facts } from '../facts/facts.ts'
import { moduleTemperatures } from '../heat/models/module-temperatures.ts'
import { selfWarming } from '../heat/models/self-warming.ts'

/** So long without current the log must end, s: the contract's three minutes of `self-heating`. */
const REST_S = 180
/** A rise in these three minutes that is told, K, and in sensor steps. Common practice, no source. */
const RISE_K = 1
const STEPS = 2

/**
 * Is a sensor still rising when the log ends, hardly any current having flowed for three minutes?
 *
 * Model: mean of the last half minute less that of the half minute three minutes before the end, over 1 K and two steps.
 * Reads: module temperatures [°C], pack current [A]. Gives: a sentence for the hottest riser, or null.
 * Blind: places without a sensor. Heat that soaks outwards after a hard drive does this too, and dies away: so it is
 * told to whoever touches the car, and is no finding.
 */
export function stillWarming(facts: Facts): string | null {
  const grid = facts.once(moduleTemperatures)
  const limitA = facts.once(selfWarming)?.limitA
  const current = facts.once(packCurrent)
  if (!grid || !current || limitA === undefined) return null
  const endS = grid.timeS.at(-1)!
  if (current.timeS.at(-1)! < endS - 5 || endS - grid.timeS[0]! < REST_S) return null
  for (let i = current.timeS.length - 1; i >= 0 && current.timeS[i]! >= endS - REST_S; i--)
    if (Math.abs(current.amperes[i]!) > limitA) return null
  let most: { name: string; kelvin: number } | null = null
  for (const { index, sensors } of grid.modules)
    for (const { number, celsius, stepC } of sensors) {
      const kelvin =
        middle(grid.timeS, celsius, endS - 30, endS) -
        middle(grid.timeS, celsius, endS - REST_S, endS - REST_S + 30)
      const bar = Math.max(RISE_K, STEPS * (Number.isFinite(stepC) ? stepC : 0))
      if (kelvin >= bar && kelvin > (most?.kelvin ?? 0))
        most = { name: grid.placedFrom ? `module ${index}` : `temperature sensor ${number}`, kelvin }
    }
  if (!most) return null
  return `The pack still warms without current when the log ends: ${most.name} by ${numberText(most.kelvin, 2)} K in the last 3 min. Keep away from it until its temperature falls. ${INSIDE_BOX}`
}

function middle(timeS: Float64Array, celsius: Float64Array, fromS: number, toS: number): number {
  let sum = 0
  let n = 0
  for (let i = 0; i < timeS.length; i++)
    if (timeS[i]! >= fromS && timeS[i]! <= toS && Number.isFinite(celsius[i]!)) {
      sum += celsius[i]!
      n++
    }
  return n > 0 ? sum / n : Number.NaN
}
