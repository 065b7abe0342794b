import { execFileSync, spawnSync } from 'node:child_process'
import { statSync } from 'node:fs'
import { cpus, loadavg, totalmem } from 'node:os'
import { join } from 'node:path'
import { type BenchLog, reviewLogs } from './review-logs.ts'

/**
 * `npm run bench -- review [HOURS]`: how long a review takes, beside the import of the same log and beside a loop that
 * looks at each byte of the file once, which no reader goes below. Logs of the simulator up to HOURS (10 unless said), as
 * tables and as frames. Every figure is a fresh process; the three take turns in each of five rounds (`BENCH_ROUNDS`);
 * medians. Printed, never tested: a busy machine is slower.
 */
const ROOT = join(import.meta.dirname, '../..')
const FOLDER = join(ROOT, 'node_modules/.cache/aftermile-bench')
const ROUNDS = Number(process.env.BENCH_ROUNDS ?? 5)
const METHODS = ['loop', 'channels', 'review'] as const
type Method = (typeof METHODS)[number]

interface Once {
  readonly ms: number
  readonly cpuMs: number
  readonly peakMb: number
}

export function benchReviews(most: number): void {
  execFileSync('npx', ['tsc', '-p', 'src/tsconfig.json', '--outDir', join(FOLDER, 'dist')], {
    cwd: ROOT,
    stdio: 'inherit',
  })
  console.log(
    `${cpus().length} × ${cpus()[0]?.model.trim()}, ${(totalmem() / 2 ** 30).toFixed(0)} GiB, Node ${process.version}; ${ROUNDS} rounds, load ${loadavg()[0]!.toFixed(1)}`,
  )
  let before: { readonly log: BenchLog; readonly ms: number } | null = null
  for (const log of reviewLogs(FOLDER, most)) {
    const runs = new Map<Method, Once[]>(METHODS.map((method) => [method, []]))
    for (let round = 0; round < ROUNDS; round++) for (const [method, all] of runs) all.push(once(method, log))
    const of = (method: Method, figure: keyof Once): number =>
      median(runs.get(method)!.map((each) => each[figure]))
    const review = of('review', 'ms')
    console.log(`\n${log.name}: ${(statSync(log.path).size / 1e6).toFixed(1)} MB`)
    for (const method of METHODS)
      console.log(
        `  ${NAMES[method].padEnd(34)} ${of(method, 'ms').toFixed(0).padStart(7)} ms  processor ${of(method, 'cpuMs').toFixed(0).padStart(7)} ms  ${of(method, 'peakMb').toFixed(0).padStart(5)} MB`,
      )
    console.log(
      `  the review: ${(review / of('loop', 'ms')).toFixed(1)} times the loop, ${(review / of('channels', 'ms')).toFixed(1)} times the import`,
    )
    if (before && log.hours > before.log.hours)
      console.log(
        `  ${(log.hours / before.log.hours).toFixed(1)} times the drive, ${(review / before.ms).toFixed(1)} times the review of ${before.log.name}`,
      )
    before = { log, ms: review }
  }
}

const NAMES: Readonly<Record<Method, string>> = {
  loop: 'limit: look at each byte once',
  channels: 'import alone (`channels`)',
  review: 'review',
}

function once(method: Method, log: BenchLog): Once {
  const script = join(import.meta.dirname, 'review-once.mjs')
  const options = log.signals === undefined ? [] : [log.signals]
  const done = spawnSync(process.execPath, [script, join(FOLDER, 'dist'), method, log.path, ...options], {
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  })
  const last = done.stderr.trim().split('\n').at(-1) ?? ''
  if (!last.startsWith('{')) throw new Error(`${method} of ${log.path}: ${done.stderr}`)
  return JSON.parse(last) as Once
}

const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!
