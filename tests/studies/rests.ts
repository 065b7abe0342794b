import { reviewDrive } from '../../src/review/review.ts'
import { RESTS, restCase, wrongWords } from './rest-family.ts'
import { studyArguments } from './two-models.ts'

/**
 * Charges, parked cars and keys turned for nothing, on healthy cars of both simulators: no failed start, no plug
 * accused, nothing above a note; with the vehicle file and without.
 *
 *     npm run study:rests -- [logs a kind and model, default 3] [--model=first|second|both] [--from=SEED] [--verdicts]
 */
const { count, from, models } = studyArguments(process.argv.slice(2), 3)
const verdicts = process.argv.includes('--verdicts')
let asked = 0
let wrong = 0
for (const model of models)
  for (const rest of RESTS)
    for (let seed = from; seed < from + count; seed++) {
      const made = restCase(model, rest, seed)
      for (const [what, each] of [
        ['with the vehicle file', made],
        ['without', { ...made, vehicle: {} }],
      ] as const) {
        const words = wrongWords(each)
        asked++
        if (words.length > 0) wrong++
        if (words.length > 0) console.log(`  ${made.name}, ${what}: ${words.join('; ')}`)
        if (verdicts)
          console.log(`  ${made.name}, ${what}: ${reviewDrive(each.drive, each.vehicle).verdict.sentence}`)
      }
    }
console.log(`charges and rests: ${asked - wrong} of ${asked} reviews say nothing that they should not`)
