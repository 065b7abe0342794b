import { describe, expect, it } from 'vitest'
import { CATALOGUE } from '../../shared/channels.ts'
import { reviewSchema } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { ANALYSES, gatherFacts } from '../../src/review/run-all.ts'
import { brokenSentences } from '../helpers/broken-sentences.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** One body of checks on every question: whatever the log holds, it answers, changes nothing, and says whole sentences. */
const IDS = CATALOGUE.flatMap(({ id, numbered }) => (numbered ? [`${id}.1`, `${id}.2`] : [id]))

/** A plausible value in the middle of what the catalogue believes, wavering a little. */
function plausible(id: string, i: number): number {
  const entry = CATALOGUE.find((each) => id === each.id || id.startsWith(`${each.id}.`))!
  const [low, high] = entry.range
  if (entry.kind !== 'number') return i % 7 < 3 ? 0 : 1
  const span = Math.min(high - low, 40)
  const middle = Math.max(low, Math.min(high, 20))
  return Math.max(low, Math.min(high, middle + 0.1 * span * Math.sin(i)))
}

type Columns = Record<string, number[]>
const times = (n: number, step: number): number[] => Array.from({ length: n }, (_, i) => i * step)
const filled = (ids: readonly string[], n: number, value = plausible): Columns =>
  Object.fromEntries(ids.map((id) => [id, Array.from({ length: n }, (_, i) => value(id, i))]))

const LOGS: Readonly<Record<string, () => { timeS: number[]; columns: Columns }>> = {
  'an empty drive': () => ({ timeS: [], columns: {} }),
  'channels without a sample': () => ({ timeS: [], columns: filled(IDS, 0) }),
  'nothing that can be believed': () => ({
    timeS: times(50, 0.1),
    columns: filled(IDS, 50, () => Number.NaN),
  }),
  'one sample': () => ({ timeS: [0], columns: filled(IDS, 1) }),
  'two samples a million seconds apart': () => ({ timeS: [0, 1e6], columns: filled(IDS, 2) }),
  'every channel, ten seconds': () => ({ timeS: times(100, 0.1), columns: filled(IDS, 100) }),
  'every channel, a row every 2 s': () => ({ timeS: times(100, 2), columns: filled(IDS, 100) }),
}

const copyOf = (columns: Columns): Columns => structuredClone(columns)

describe('whatever a log holds', () => {
  for (const [name, make] of Object.entries(LOGS)) {
    const made = make()
    const drive = driveFromColumns(made.timeS, made.columns)

    for (const analysis of ANALYSES)
      it(`${analysis.name}: ${name}`, () => {
        const before = copyOf(
          Object.fromEntries([...drive.channels].map(([id, each]) => [id, [...each.values, ...each.timeS]])),
        )
        const first = analysis.run(gatherFacts(drive, {}))
        const again = analysis.run(gatherFacts(drive, {}))
        expect(JSON.stringify(again)).toBe(JSON.stringify(first))
        expect(first.questions.length + Object.keys(first.sections ?? {}).length).toBeGreaterThan(0)
        for (const question of first.questions)
          if (question.state === 'not-assessed') expect(question.why).not.toBe('')
        for (const [id, each] of drive.channels) expect([...each.values, ...each.timeS]).toEqual(before[id])
      })

    it(`the review: ${name}`, () => {
      const review = reviewDrive(drive, {})
      expect(reviewSchema.safeParse(review).error?.issues ?? []).toEqual([])
      expect(review.questions.filter(({ why }) => why.includes('broke off'))).toEqual([])
      expect(brokenSentences(review)).toEqual([])
    })
  }

  it('every channel alone, and every channel missing', () => {
    const found: string[] = []
    const broke = (ids: readonly string[], what: string): void => {
      const review = reviewDrive(driveFromColumns(times(60, 0.1), filled(ids, 60)), {})
      for (const { why } of review.questions) if (why.includes('broke off')) found.push(`${what}: ${why}`)
      found.push(...brokenSentences(review).map((each) => `${what}: ${each}`))
    }
    for (const { id, numbered } of CATALOGUE) {
      const own = numbered ? [`${id}.1`, `${id}.2`] : [id]
      broke(own, `${id} alone`)
      broke(
        IDS.filter((each) => !own.includes(each)),
        `without ${id}`,
      )
    }
    expect(found).toEqual([])
  })
})
