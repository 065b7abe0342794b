import type { Reading } from '../../../shared/reading.ts'
import { conversionTo, convert } from '../../../shared/units.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import type { Facts } from '../../facts/facts.ts'
import type { StepCheck } from './start-step-checks.ts'

export interface CheckReading {
  readonly reading: Reading
  /** As expected or not; null where the reading is noted and a person judges it. */
  readonly right: boolean | null
}

/**
 * The last reading taken at the car that answers a check; null where none does. A reading answers where its place names
 * the check's, or is the check itself as the work card words it. What reads open conducts nothing: wrong wherever a
 * resistance should be.
 */
export function readingOf({ readings, vehicle }: Pick<Facts, 'readings' | 'vehicle'>, check: StepCheck) {
  const answers = readings.filter(({ place }) => isAt(place, check))
  const last = answers.reduce<Reading | null>((a, b) => (a && a.date > b.date ? a : b), null)
  return last && { reading: last, right: rightOf(last, check, vehicle) }
}

/** Beside the place's own words a person may write a few more; a whole sentence is another check's. */
const MORE_WORDS = 3

function isAt(place: string, check: StepCheck): boolean {
  const words = wordsOf(place)
  if (wordsOf(check.what).join(' ') === words.join(' ')) return true
  const own = wordsOf(check.place)
  return words.length <= own.length + MORE_WORDS && own.every((each) => words.includes(each))
}

const wordsOf = (text: string): string[] => text.toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? []

function rightOf({ value, unit }: Reading, { reads }: StepCheck, vehicle: Vehicle): boolean | null {
  if (!reads) return null
  if (value === 'open') return reads.unit === 'Ω' ? false : null
  const by = conversionTo(unit, reads.unit)
  return by ? reads.right(convert(value, by), vehicle) : null
}
