import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Review } from '../../shared/review.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readVehicleFile } from '../../src/open/vehicle-file.ts'
import { toText } from '../../src/report/text.ts'
import { finishAgain, readEveryReview } from '../../src/review/finish.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { BROKEN } from '../helpers/broken-sentences.ts'
import { driveFromText } from '../helpers/drive-from-text.ts'
import { LABORATORY, wrongSentences } from '../helpers/review-sentences.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/** The review's own sentences, and those that print makes of them. */
function wrong(review: Review): string[] {
  const found = wrongSentences(review)
  for (const line of toText(review, { full: true }).split('\n'))
    for (const [what, pattern] of BROKEN.slice(0, 3))
      if (pattern.test(line)) found.push(`${what} printed: ${line}`)
  return found
}

const SAMPLES = join(import.meta.dirname, '../../sample-logs')
const folders = readdirSync(SAMPLES, { withFileTypes: true }).filter((each) => each.isDirectory())

describe('every sentence of every review is whole', () => {
  it.each(folders.map(({ name }) => name))(
    'sample %s, with and without its vehicle file',
    async (name) => {
      const at = (file: string): string => join(SAMPLES, name, file)
      const expected = JSON.parse(readFileSync(at('expected.json'), 'utf8')) as {
        files: string[]
        signals: string | null
      }
      const signals = expected.signals ? { signals: at(expected.signals) } : {}
      const vehicle = existsSync(at('vehicle.json')) ? await readVehicleFile(at('vehicle.json')) : {}
      for (const given of [vehicle, {}]) {
        const drive = await openDrive(expected.files.map(at), { ...signals, vehicle: given })
        const review = reviewDrive(drive, given)
        expect(wrong(review)).toEqual([])
        for (const question of review.questions.filter(({ state }) => state === 'found'))
          expect(review.findings.map((each) => each.question)).toContain(question.question)
        const ids = review.findings.map(({ id }) => id)
        expect(new Set(ids).size).toBe(ids.length)
      }
    },
    300_000,
  )

  it('short and bare drives', () => {
    const bare = driveFromText(`
      time_s  motor_temperature
      0       20
      1       21`)
    for (const drive of [bare, smallDrive()]) expect(wrong(reviewDrive(drive, {}))).toEqual([])
  })

  it('are read in every test that makes a review: a broken one would be seen', () => {
    const sound = reviewDrive(smallDrive(), {})
    const read: string[] = []
    const everywhere = readEveryReview((review) => read.push(...wrongSentences(review)))
    expect(everywhere).not.toBeNull()
    const [question] = sound.questions
    for (const [text, seen] of [
      ['Limited by the drive.', false],
      ['287 ± -142 %.', true],
      ['Not in the log: ', true],
      ['It is NaN mΩ.', true],
      ['0 samples in the rise. only 0 samples.', true],
    ] as const) {
      read.length = 0
      finishAgain({ ...sound, questions: [{ ...question!, why: text }] })
      expect([text, read.length > 0]).toEqual([text, seen])
    }
    readEveryReview(everywhere)
    for (const word of [
      'rms',
      'robust spread',
      'ohmic',
      'polarisation',
      '5 points',
      'times R·C',
      'law of warming',
    ])
      expect(LABORATORY.test(`so much ${word} is told`), word).toBe(true)
    for (const word of ['three times as resistive', 'parts in a million', 'Integral V·s'])
      expect(LABORATORY.test(word), word).toBe(true)
  })
})
