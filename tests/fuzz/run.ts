import { mkdirSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { tryOne } from './fuzz.ts'
import { TARGETS } from './targets.ts'

/** `npm run fuzz -- --minutes 5 --seed 1`: mutants of every kind of input in turn; failures are kept and told. */
const { values } = parseArgs({ options: { minutes: { type: 'string' }, seed: { type: 'string' } } })
const until = Date.now() + 60_000 * Number(values.minutes ?? 1)
const first = Number(values.seed ?? 1)
const keep = join(tmpdir(), `aftermile-fuzz-failures-${first}`)
mkdirSync(keep, { recursive: true })
const tried = new Map(TARGETS.map(({ name }) => [name, { mutants: 0, failures: 0 }]))
for (let seed = first; Date.now() < until; seed++)
  for (const target of TARGETS) {
    const count = tried.get(target.name)!
    const failure = await tryOne(target, seed, keep)
    count.mutants++
    if (!failure) continue
    count.failures++
    process.stdout.write(`${failure.target}, seed ${failure.seed}: ${failure.why}\n`)
  }
for (const [name, { mutants, failures }] of tried)
  process.stdout.write(`${name}: ${mutants} mutants, ${failures} failures\n`)
process.stdout.write(
  `most memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MB; failures are kept in ${keep}\n`,
)
process.exitCode = [...tried.values()].some(({ failures }) => failures > 0) ? 1 : 0
