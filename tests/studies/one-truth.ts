/**
 * Does every surface tell the same figures of regeneration? Reference and sample drives, and random drives of both
 * simulators with the faults of the brake: largest disagreement beyond rounding, by figure. 0 is asked for.
 * `npx tsx tests/studies/one-truth.ts [drives a model]`
 */

import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { type Review, reviewSchema } from '../../shared/review.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { readVehicleFile } from '../../src/open/vehicle-file.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { LOGS, truths } from '../check-logs.ts'
import { apart, regenDisagreements, regenTold } from '../helpers/regen-disagreements.ts'
import type { Fault } from '../simulator/faults.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { simulate } from '../simulator/simulate.ts'

const worst = new Map<string, number>()
let reviews = 0
let figures = 0

function look(name: string, review: Review): void {
  reviewSchema.parse(review)
  reviews++
  for (const each of regenTold(review)) {
    figures++
    const what = each.what.replace(/\(.*\)/, '')
    worst.set(what, Math.max(worst.get(what) ?? 0, apart(each)))
  }
  for (const each of regenDisagreements(review)) console.log(`${name}: ${each}`)
}

async function stored(
  folder: string,
  file: { files: readonly string[]; signals: string | null; vehicle: string },
) {
  for (const bare of [false, true]) {
    const vehicle = bare ? {} : await readVehicleFile(join(folder, file.vehicle))
    const signals = file.signals ? { signals: join(folder, file.signals) } : {}
    const paths = file.files.map((each) => join(folder, each))
    look(
      `${folder}${bare ? ' without vehicle file' : ''}`,
      reviewDrive(await openDrive(paths, { ...signals, vehicle }), vehicle),
    )
  }
}

const FAULTS: readonly (readonly Fault[])[] = [
  [],
  [{ kind: 'regen-limited', amps: 25 }],
  [{ kind: 'regen-step', bar: 6, nm: 30 }],
  [{ kind: 'regen-dead-band', bar: 8 }],
]

const drives = Number(process.argv[2] ?? 4)
for (const root of [LOGS, join(LOGS, '../other-physics')])
  for (const { folder, truth } of truths(root)) await stored(folder, truth)
const samples = join(import.meta.dirname, '../../sample-logs')
for (const each of readdirSync(samples, { withFileTypes: true }))
  if (each.isDirectory())
    await stored(
      join(samples, each.name),
      JSON.parse(readFileSync(join(samples, each.name, 'expected.json'), 'utf8')),
    )
for (let seed = 1; seed <= drives; seed++) {
  const faults = () => FAULTS[(seed - 1) % FAULTS.length]!
  const first = simulate(randomCase({ seed, durationS: [200, 300], faults }))
  look(`first ${seed}`, reviewDrive(first.drive, first.vehicle))
  const second = simulateSecond(
    secondCase({
      seed,
      durationS: [200, 300],
      faults: () => faults().filter((each) => each.kind === 'regen-limited'),
    }),
  )
  look(`second ${seed}`, reviewDrive(second.drive, second.vehicle))
}
for (const [what, most] of [...worst].sort()) console.log(`${most.toPrecision(3).padStart(10)}  ${what}`)
console.log(
  `${reviews} reviews, ${figures} figures told twice; largest disagreement beyond rounding ${Math.max(0, ...worst.values()).toPrecision(3)}`,
)
