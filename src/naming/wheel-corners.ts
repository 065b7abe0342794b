import { quantityOf } from '../../shared/units.ts'
import { FAMILY_RULES } from './channel-names.ts'
import type { Column } from './column.ts'
import { valuesFit } from './column-values.ts'
import type { Family } from './family.ts'
import { matchWords } from './match-words.ts'

/** Under it a corner's column is no wheel's; no source. */
const SURE = 0.5

/** Corners of a car by the usual letters: front left, front right, rear left, rear right. */
const CORNERS: readonly (readonly [RegExp, number])[] = [
  [/(^|[^a-z])(fl|lf|vl|front[\s_-]*left|left[\s_-]*front|vorne[\s_-]*links)([^a-z]|$)/i, 1],
  [/(^|[^a-z])(fr|rf|vr|front[\s_-]*right|right[\s_-]*front|vorne[\s_-]*rechts)([^a-z]|$)/i, 2],
  [/(^|[^a-z])(rl|lr|hl|rear[\s_-]*left|left[\s_-]*rear|hinten[\s_-]*links)([^a-z]|$)/i, 3],
  [/(^|[^a-z])(rr|hr|rear[\s_-]*right|right[\s_-]*rear|hinten[\s_-]*rechts)([^a-z]|$)/i, 4],
]

/** Wheel speeds named by corner: FL, FR, RL, RR are 1 to 4. */
export function cornerFamily(columns: readonly Column[], context: ReadonlySet<string>): Family | null {
  const [rule] = FAMILY_RULES.filter((each) => each.id === 'wheel_speed')
  const members: Column[] = []
  const numbers: number[] = []
  for (const column of columns) {
    const spaced = column.series.name
      .replace(/([a-z])([A-Z])/g, '$1_$2')
      .replace(/^((?:F|R|V|H)(?:L|R))(?=[A-Z][a-z])/, '$1_')
    const corner = CORNERS.find(([pattern]) => pattern.test(spaced))
    if (!corner || numbers.includes(corner[1])) continue
    const words = column.name.words.filter(
      (word) =>
        !/^(fl|lf|vl|fr|rf|vr|rl|lr|hl|rr|hr|front|rear|left|right|vorne|hinten|links|rechts)$/.test(word),
    )
    const fit = matchWords([...words, 'wheel'], context, quantityOf(column.series.unit ?? ''), rule!)
    if (!fit || fit.score * valuesFit('wheel_speed', column.series.unit, column.values) < SURE) continue
    members.push(column)
    numbers.push(corner[1])
  }
  if (members.length < 2) return null
  return {
    id: 'wheel_speed',
    members,
    numbers,
    sureness: 0.9,
    why: 'its words name a wheel speed and the corner of the car (front left 1, front right 2, rear left 3, rear right 4)',
  }
}
