import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Review } from '../../shared/review.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readVehicleFile } from '../../src/open/vehicle-file.ts'
import { toText } from '../../src/report/text.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { BROKEN } from '../helpers/broken-sentences.ts'
import { driveFromText } from '../helpers/drive-from-text.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/** Words of the laboratory, not of the workshop; findings, steps and verdict do without them (issue 12). */
const LABORATORY =
  /\brms\b|robust spread|\bohmic\b|polarisation|times R·C|law of warming|as resistive|parts in a million/i

function sentences(review: Review): [where: string, text: string][] {
  const out: [string, string][] = [['verdict', review.verdict.sentence]]
  for (const each of review.verdict.before_touching) out.push(['before touching', each])
  for (const each of review.findings) {
    for (const key of ['headline', 'reason', 'next_step'] as const) out.push([`${each.id} ${key}`, each[key]])
    for (const caution of each.cautions) out.push([`${each.id} caution`, caution])
    for (const rival of each.rivals)
      for (const key of ['for', 'against', 'decided_by'] as const) out.push([`${each.id} rival`, rival[key]])
  }
  for (const each of review.questions) {
    out.push([each.question, each.question], [each.question, each.why])
    if (each.to_assess !== null) out.push([each.question, each.to_assess])
  }
  for (const start of [...review.starts, ...review.charges])
    for (const step of start.steps) out.push([`step ${step.name}`, step.why])
  for (const check of review.check_sheet)
    for (const text of [check.what, check.instrument, check.expect, check.tells, check.known ?? 'none'])
      out.push([`check ${check.what}`, text])
  for (const event of review.timeline) out.push(['timeline', event.what])
  return out
}

function wrong(review: Review): string[] {
  const found: string[] = []
  for (const [where, text] of sentences(review)) {
    for (const [what, pattern] of BROKEN) if (pattern.test(text)) found.push(`${what} in ${where}: ${text}`)
    if (LABORATORY.test(text) && !review.questions.some(({ question }) => question === where))
      found.push(`a laboratory word in ${where}: ${text}`)
  }
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
})
