/**
 * `npm run bench`: how fast logs are read, beside other readers, on the same generated files in one run.
 *
 * Tables: every figure is a fresh process (nothing warmed up), all methods in turn inside each of five rounds, medians;
 * milliseconds from file path to finished columns, loading the library included. The other readers are installed by
 * their own names into a folder under node_modules/.cache, never into the project.
 * Frames: see `frames.ts`. `npm run bench -- review [HOURS]`: whole reviews, see `review.ts`; `-- batch [DRIVES]`: see `batch.ts`.
 */
import { execFileSync } from 'node:child_process'
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { cpus, totalmem } from 'node:os'
import { join } from 'node:path'
import { benchBatch } from './batch.ts'
import { benchFrames, frameBenchLines } from './frames.ts'
import { COLUMNS, generatedFiles, ROWS } from './generate.ts'
import { benchReviews } from './review.ts'

const ROOT = join(import.meta.dirname, '../..')
const FOLDER = join(ROOT, 'node_modules/.cache/aftermile-bench')
const PEERS = { udsv: '0.7.3', 'd3-dsv': '3.0.2', '@duckdb/node-api': '1.5.6-r.1' }
const ROUNDS = Number(process.env.BENCH_ROUNDS ?? 5)

const METHODS = {
  ours: 'this importer',
  'csv-parse': 'csv-parse, stream',
  udsv: 'udsv, stream, typed rows',
  'd3-dsv': 'd3-dsv, rows',
  duckdb: 'duckdb, columns from its CSV reader',
  newlines: 'limit: find each line end',
  looking: 'limit: see each delimiter, write each value',
  touch: 'limit: allocate and touch dense columns',
  hash: "beside it: the file's SHA-256",
} as const
type Method = keyof typeof METHODS
const OTHERS: readonly Method[] = ['csv-parse', 'udsv', 'd3-dsv', 'duckdb']

interface Once {
  readonly ms: number
  readonly cpuMs: number
  readonly peakMb: number
  readonly sum: number
  readonly count: number
}

function prepare(): void {
  mkdirSync(join(FOLDER, 'peers'), { recursive: true })
  // What runs from the project's own build is measured as it is shipped.
  execFileSync('npx', ['tsc', '-p', 'src/tsconfig.json', '--outDir', join(FOLDER, 'dist')], {
    cwd: ROOT,
    stdio: 'inherit',
  })
  const missing = Object.keys(PEERS).some((name) => !existsSync(join(FOLDER, 'peers/node_modules', name)))
  if (!missing) return
  writeFileSync(join(FOLDER, 'peers/package.json'), JSON.stringify({ private: true, dependencies: PEERS }))
  execFileSync('npm', ['install', '--no-audit', '--no-fund', '--silent'], {
    cwd: join(FOLDER, 'peers'),
    stdio: 'inherit',
  })
}

function once(method: Method, file: string): Once {
  const args = [
    join(import.meta.dirname, 'import-once.mjs'),
    method,
    file,
    String(ROWS),
    String(COLUMNS),
    FOLDER,
  ]
  return JSON.parse(execFileSync(process.execPath, args, { encoding: 'utf8' })) as Once
}

const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!

function benchTable(what: string, file: string): string[] {
  const all = new Map<Method, Once[]>(Object.keys(METHODS).map((method) => [method as Method, []]))
  for (let round = 0; round < ROUNDS; round++) for (const [method, runs] of all) runs.push(once(method, file))
  const ours = all.get('ours')!
  for (const method of OTHERS) {
    const [run] = all.get(method)!
    if (run!.count !== ours[0]!.count || Math.abs(run!.sum / ours[0]!.sum - 1) > 1e-9)
      throw new Error(
        `${method} read other values: ${run!.count} and ${run!.sum}, not ${ours[0]!.count} and ${ours[0]!.sum}`,
      )
  }
  const msOf = (method: Method): number => median(all.get(method)!.map((run) => run.ms))
  const cpuOf = (method: Method): number => median(all.get(method)!.map((run) => run.cpuMs))
  const best = OTHERS.reduce((a, b) => (msOf(b) < msOf(a) ? b : a))
  const columnsMb = (ours[0]!.count * 8) / 1e6
  const peakMb = median(ours.map((run) => run.peakMb))
  return [
    '',
    `${what}: ${(readFileSync(file).length / 1e6).toFixed(1)} MB, ${ROWS} rows × ${COLUMNS} columns, ${ours[0]!.count} values`,
    ...[...all].map(([method, runs]) => {
      const times = runs.map((run) => run.ms).sort((a, b) => a - b)
      return `  ${METHODS[method].padEnd(42)} ${msOf(method).toFixed(0).padStart(6)} ms  (${times[0]!.toFixed(0)} … ${times.at(-1)!.toFixed(0)})  ${median(
        runs.map((run) => run.peakMb),
      )
        .toFixed(0)
        .padStart(
          4,
        )} MB  ${(msOf(method) / msOf('ours')).toFixed(2).padStart(6)} × ours   processor ${cpuOf(method).toFixed(0).padStart(6)} ms  ${(cpuOf(method) / cpuOf('ours')).toFixed(2).padStart(6)} × ours`
    }),
    `  against the best other reader (${METHODS[best]}): ${(msOf(best) / msOf('ours')).toFixed(1)} times as fast`,
    `  against allocating and touching dense columns: ${(msOf('ours') / msOf('touch')).toFixed(2)} times as long`,
    `  peak memory ${peakMb.toFixed(0)} MB; columns ${columnsMb.toFixed(0)} MB; 1.5 × columns + 64 MB = ${(1.5 * columnsMb + 64).toFixed(0)} MB`,
  ]
}

const [what, count] = process.argv.slice(2)
if (what === 'review') benchReviews(Number(count ?? 10))
else if (what === 'batch') console.log(benchBatch(Number(count ?? 200)).join('\n'))
else await benchReaders()

async function benchReaders(): Promise<void> {
  prepare()
  const files = generatedFiles(FOLDER)
  console.log(
    `${cpus().length} × ${cpus()[0]?.model.trim()}, ${(totalmem() / 2 ** 30).toFixed(0)} GiB, Node ${process.version}, ${process.platform}; ${ROUNDS} rounds`,
  )
  console.log(
    `csv-parse ${version('csv-parse')}, ${Object.entries(PEERS)
      .map((peer) => peer.join(' '))
      .join(', ')}`,
  )
  console.log(benchTable('Dense table', files.dense).join('\n'))
  console.log(benchTable('Sparse table', files.sparse).join('\n'))
  console.log(`\n${frameBenchLines(await benchFrames()).join('\n')}`)
}

function version(name: string): string {
  return (
    JSON.parse(readFileSync(join(ROOT, 'node_modules', name, 'package.json'), 'utf8')) as { version: string }
  ).version
}
