import type { Finding } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { Measured } from '../simulator/simulate.ts'
import { Ledger } from './ledger.ts'
import { describe, draw, hiddenFunction, type Model, studyArguments } from './two-models.ts'

/**
 * False alarms: random healthy drives of both simulators, every finding above `note` printed with its seed. A limit of
 * the battery that truly held braking back is no false alarm. Cruise control, creep or hold that no channel shows is
 * attention by the contract where its course proves nothing: counted apart, and never a stop. Of n drives without one,
 * 3 / n bounds the rate.
 *
 *     npm run study:healthy -- [drives a model, default 20] [--model=first|second|both] [--from=SEED]
 *         [--without-vehicle | --both-ways] [--results=FILE] [--minutes=N]
 *
 * `--both-ways` reviews each drive with and without its vehicle file.
 */
interface Result {
  readonly model: Model
  readonly seed: number
  readonly bare: boolean
  readonly drive: string
  readonly loud: readonly { readonly kind: string; readonly said: string }[]
  readonly unproved: boolean
  readonly broke: readonly string[]
}

function said(finding: Finding): string {
  const { severity, kind, subject, value, unit, low, high, headline } = finding
  return (
    `${severity} ${kind} ${subject.index ?? subject.name ?? ''} ${value?.toPrecision(3)} ${unit} ` +
    `[${low?.toPrecision(3)}, ${high?.toPrecision(3)}] ${headline}`
  )
}

function result(model: Model, seed: number, bare: boolean, made: Measured): Result {
  const allowed = made.truth.regen.limitedShare > 0.05 ? ['regen-limited'] : []
  const { findings, questions } = reviewDrive(made.drive, bare ? {} : made.vehicle)
  const raised = findings.filter(({ severity, kind }) => severity !== 'note' && !allowed.includes(kind))
  const unnamed = hiddenFunction(made)
  const loud = raised.filter(
    ({ severity, kind }) => !(unnamed && kind === 'torque-without-pedal' && severity === 'attention'),
  )
  return {
    model,
    seed,
    bare,
    drive: describe(model, seed, made),
    loud: loud.map((each) => ({ kind: each.kind, said: said(each) })),
    unproved: loud.length < raised.length,
    broke: questions.map(({ why }) => why).filter((why) => /broke off/.test(why)),
  }
}

const argv = process.argv.slice(2)
const { count, from, models, bare } = studyArguments(argv, 20)
const ways = argv.includes('--both-ways') ? [false, true] : [bare]
const ledger = new Ledger<Result>(argv)
// seed by seed over the models, so that a part of a study is of both alike
for (let seed = from; seed < from + count; seed++)
  for (const model of models) {
    let made: Measured | null = null
    for (const way of ways) {
      const key = `${model} ${seed} ${way ? 'bare' : 'with'}`
      if (ledger.over || ledger.get(key)) continue
      made ??= draw({ model, seed })
      const each = result(model, seed, way, made)
      ledger.add(key, each)
      for (const why of each.broke) console.log(`  BROKE ${why} (${key})`)
      if (each.loud.length > 0) console.log(`  ${each.drive}${way ? ', no vehicle file' : ''}`)
      for (const { said } of each.loud) console.log(`    ${said}`)
    }
  }
for (const model of models)
  for (const way of ways) {
    const own = ledger.all().flatMap(([, each]) => (each.model === model && each.bare === way ? [each] : []))
    const accused = own.filter(({ loud }) => loud.length > 0)
    const unproved = own.filter((each) => each.unproved)
    console.log(
      `${model} model${way ? ', no vehicle file' : ''}: ${accused.length} of ${own.length} healthy drives accused`,
    )
    if (unproved.length > 0)
      console.log(
        `  a function that nothing names or proves (attention): seeds ${unproved.map(({ seed }) => seed).join(', ')}`,
      )
    const kinds = new Set(accused.flatMap(({ loud }) => loud.map(({ kind }) => kind)))
    for (const kind of kinds) {
      const seeds = accused
        .filter(({ loud }) => loud.some((each) => each.kind === kind))
        .map(({ seed }) => seed)
      console.log(`  ${kind}: ${seeds.length} (seeds ${seeds.join(', ')})`)
    }
  }
