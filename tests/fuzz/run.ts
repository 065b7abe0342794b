import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { type Failure, tryOne } from './fuzz.ts'
import { tryProcess } from './processes.ts'
import { Routes } from './routes.ts'
import { StoredFiles } from './stored-files.ts'
import { TARGETS } from './targets.ts'

/**
 * `npm run fuzz -- --minutes 5 --seed 1`: mutants of every kind of input in turn; failures are kept and told with their
 * seed. `--only parsers|reviews|stored|routes|processes` takes one group, `--mutants N` ends after so many.
 */
const { values } = parseArgs({
  options: {
    minutes: { type: 'string' },
    seed: { type: 'string' },
    only: { type: 'string' },
    mutants: { type: 'string' },
  },
})
const until = values.minutes || !values.mutants ? Date.now() + 60_000 * Number(values.minutes ?? 1) : Infinity
const most = Number(values.mutants ?? Infinity)
const first = Number(values.seed ?? 1)
const keepIn = join(tmpdir(), `aftermile-fuzz-failures-${first}`)
const folder = mkdtempSync(join(tmpdir(), 'aftermile-fuzz-'))
const stored = new StoredFiles()
const routes = await Routes.open()

const GROUPS = ['parsers', 'reviews', 'stored', 'routes', 'processes'] as const
type Group = (typeof GROUPS)[number]
const kinds: readonly {
  group: Group
  name: string
  tryOne: (seed: number) => Promise<Failure | null> | Failure | null
}[] = [
  ...TARGETS.map((target) => ({
    group: target.group,
    name: target.name,
    tryOne: (seed: number) => tryOne(target, seed, folder, keepIn),
  })),
  { group: 'stored', name: 'a file of a stored drive', tryOne: (seed) => stored.tryOne(seed) },
  { group: 'routes', name: 'requests', tryOne: (seed) => routes.tryOne(seed) },
  { group: 'processes', name: 'reviews in a process', tryOne: (seed) => tryProcess(seed, folder, keepIn) },
]
const chosen = kinds.filter(({ group }) => values.only === undefined || group === values.only)
if (chosen.length === 0) throw new Error(`--only: one of ${GROUPS.join(', ')}`)
const tried = new Map(chosen.map(({ name }) => [name, { mutants: 0, failures: 0 }]))
let count = 0
let ended = false
// Ended from outside, it still tells how far it came.
for (const signal of ['SIGINT', 'SIGTERM'] as const)
  process.once(signal, () => {
    ended = true
  })
for (let seed = first; !ended && Date.now() < until && count < most; seed++) {
  // lets a signal through: readers of small files never wait
  if (seed % 100 === 0) await new Promise((done) => setImmediate(done))
  for (const kind of chosen) {
    const failure = await kind.tryOne(seed)
    const row = tried.get(kind.name)!
    row.mutants++
    count++
    if (!failure) continue
    row.failures++
    process.stdout.write(`${failure.target}, seed ${failure.seed}: ${failure.why}\n`)
  }
}
for (const [name, { mutants, failures }] of tried)
  process.stdout.write(`${name}: ${mutants} mutants, ${failures} failures\n`)
process.stdout.write(
  `${count} mutants, seeds from ${first}; most memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MB; failures are kept in ${keepIn}\n`,
)
stored.close()
await routes.close()
rmSync(folder, { recursive: true, force: true })
process.exitCode = [...tried.values()].some(({ failures }) => failures > 0) ? 1 : 0
