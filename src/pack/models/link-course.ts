import { copperFactor } from '../../car/copper.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { mean, median } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import type { PathResistance } from './path-resistance.ts'

/** How a link's resistance went over the drive. */
export interface LinkCourse {
  /** It rises with the warmth beside it faster than copper does, beyond doubt. */
  readonly rises: boolean
  /** In words, beginning with a blank; empty where there is nothing to say. */
  readonly words: string
}

export const NO_COURSE: LinkCourse = { rises: false, words: '' }

/** Warmth must span so many kelvin over the parts; and so many parts are needed. */
const LEAST_K = 6
const FEWEST_PARTS = 5
const COPPER_PER_K = copperFactor(21) - 1
/** Lower, a link's course is its reading's noise, mΩ; no source. */
const LEAST_MOHM = 0.5
/** Over the drive it must rise by so much: two voltage scales half a percent apart show less; no source. */
const LEAST_RISE_MOHM = 0.3
const RISE_SHARE = 0.25

/**
 * Rise with warmth: a line of the eight parts' resistance over the warmth of the modules beside it, against copper's
 * 0.39 %/K (IEC 60028). Jumps: two parts in a row that differ by far more than both are known; a plug that moves does that.
 * Biased by: a temperature beside the link is not the link's own, which swings more. Blind: drives that warm under 6 K.
 */
export function linkCourse(facts: Facts, found: PathResistance, modules: readonly number[]): LinkCourse {
  const { course, milliohm } = found
  if (course.length < FEWEST_PARTS || !(milliohm > LEAST_MOHM)) return NO_COURSE
  const warmth = warmthAt(
    facts,
    Float64Array.from(course, ({ atS }) => atS),
    modules,
  )
  const rise = warmth ? riseOf(course, warmth) : null
  const rises =
    rise !== null &&
    found.jump === null &&
    milliohm > found.plusMinus &&
    rise.perK - 3 * rise.error > 2 * COPPER_PER_K * milliohm &&
    rise.perK * rise.spanK > Math.max(LEAST_RISE_MOHM, RISE_SHARE * milliohm)
  const { jump } = found
  return {
    rises,
    words: [
      rises
        ? ` It rises by ${((100 * rise.perK) / milliohm).toFixed(1)} % a kelvin of warmth where copper rises by ${(100 * COPPER_PER_K).toFixed(1)} %.`
        : '',
      jump
        ? ` It jumps, from ${jump[0].toFixed(2)} to ${jump[1].toFixed(2)} mΩ: a plug that moves does that.`
        : '',
    ].join(''),
  }
}

function riseOf(
  course: PathResistance['course'],
  warmth: Float64Array,
): { perK: number; error: number; spanK: number } | null {
  const middle = mean(warmth)
  const spanK = Math.max(...warmth) - Math.min(...warmth)
  if (!(spanK > LEAST_K)) return null
  const line = leastSquares(
    [course.map(() => 1), Array.from(warmth, (celsius) => celsius - middle)],
    course.map((each) => each.milliohm),
  )
  return line ? { perK: line.coefficients[1]!, error: line.standardErrors[1]!, spanK } : null
}

function warmthAt(facts: Facts, atS: Float64Array, modules: readonly number[]): Float64Array | null {
  const sensors = facts.vehicle.pack?.sensors_of_module
  const numbers = modules.flatMap((module) => sensors?.[module - 1] ?? [module])
  const read = numbers.flatMap((number) => {
    const sensor = channel(facts, `module_temperature.${number}`)
    return sensor ? [linearAt(sensor, atS, 60)] : []
  })
  const all = atS.map((_, i) => median(read.map((each) => each[i]!)))
  return read.length > 0 && all.every(Number.isFinite) ? all : null
}
