import { reviewDrive } from '../../src/review/review.ts'
import { describe, draw, hiddenFunction, studyArguments } from './two-models.ts'

/**
 * False alarms: random healthy drives of both simulators, every finding above `note` printed with its seed. A limit of
 * the battery that truly held braking back is no false alarm. Cruise control, creep or hold that no channel shows is
 * attention by the contract where its course proves nothing: counted apart, and never a stop. Of n drives without one,
 * 3 / n bounds the rate.
 *
 *     npm run study:healthy -- [drives a model, default 20] [--model=first|second|both] [--without-vehicle] [--from=SEED]
 */
const { count, from, models, bare } = studyArguments(process.argv.slice(2), 20)
for (const model of models) {
  let accused = 0
  const unproved: number[] = []
  const kinds = new Map<string, number[]>()
  for (let seed = from; seed < from + count; seed++) {
    const made = draw({ model, seed })
    const allowed = made.truth.regen.limitedShare > 0.05 ? ['regen-limited'] : []
    const vehicle = bare ? {} : made.vehicle
    const { findings, questions } = reviewDrive(made.drive, vehicle)
    const raised = findings.filter(({ severity, kind }) => severity !== 'note' && !allowed.includes(kind))
    const unnamed = hiddenFunction(made)
    const loud = raised.filter(
      ({ severity, kind }) => !(unnamed && kind === 'torque-without-pedal' && severity === 'attention'),
    )
    if (loud.length < raised.length) unproved.push(seed)
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
  if (unproved.length > 0)
    console.log(`  a function that nothing names or proves (attention): seeds ${unproved.join(', ')}`)
  for (const [kind, seeds] of kinds) console.log(`  ${kind}: ${seeds.length} (seeds ${seeds.join(', ')})`)
}
