import { reviewDrive } from '../../src/review/review.ts'
import { describe, draw, studyArguments } from './two-models.ts'

/**
 * False alarms: random healthy drives of both simulators, every finding above `note` printed with its seed. A limit of
 * the battery that truly held braking back is no false alarm. Of n drives without one, 3 / n bounds the rate.
 *
 *     npm run study:healthy -- [drives a model, default 20] [--model=first|second|both] [--without-vehicle] [--from=SEED]
 */
const { count, from, models, bare } = studyArguments(process.argv.slice(2), 20)
for (const model of models) {
  let accused = 0
  const kinds = new Map<string, number[]>()
  for (let seed = from; seed < from + count; seed++) {
    const made = draw({ model, seed })
    const allowed = made.truth.regen.limitedShare > 0.05 ? ['regen-limited'] : []
    const { findings, questions } = reviewDrive(made.drive, bare ? {} : made.vehicle)
    const loud = findings.filter(({ severity, kind }) => severity !== 'note' && !allowed.includes(kind))
    for (const { why } of questions)
      if (/broke off/.test(why)) console.log(`  BROKE ${why} (${model} ${seed})`)
    if (loud.length === 0) continue
    accused++
    console.log(`  ${describe(model, seed, made)}`)
    for (const each of loud) {
      const place = each.subject.index ?? each.subject.name ?? ''
      kinds.set(each.kind, [...(kinds.get(each.kind) ?? []), seed])
      console.log(
        `    ${each.severity} ${each.kind} ${place} ${each.value?.toPrecision(3)} ${each.unit} ` +
          `[${each.low?.toPrecision(3)}, ${each.high?.toPrecision(3)}] ${each.headline}`,
      )
    }
  }
  console.log(
    `${model} model${bare ? ', no vehicle file' : ''}: ${accused} of ${count} healthy drives accused`,
  )
  for (const [kind, seeds] of kinds) console.log(`  ${kind}: ${seeds.length} (seeds ${seeds.join(', ')})`)
}
