/**
 * `npm run test:queue [-- drives]`: a batch of 200 drives on a queue, two workers, one of them killed with -9 in the
 * middle, the server killed and started again: every drive stored, none lost, none twice. Closes with `N passed, N failed`.
 */
import { type ChildProcess, spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { readRecords } from '../../src/batch/results.ts'
import { duck } from '../helpers/duck.ts'
import { ownBuild } from '../helpers/own-build.ts'
import { writeTinyDrives } from '../helpers/tiny-logs.ts'
import { needRedis, RedisServer } from './redis-server.ts'

const DRIVES = Number(process.argv[2] ?? 200)
const root = mkdtempSync(join(tmpdir(), 'aftermile-queue-'))
const logs = join(root, 'logs')
const out = join(root, 'results')
const started = Date.now()
const seconds = (): string => `${((Date.now() - started) / 1000).toFixed(1).padStart(6)} s`
let passed = 0
let failed = 0
const check = (what: string, holds: boolean, seen: unknown): void => {
  if (holds) passed++
  else failed++
  console.log(`${seconds()}  ${holds ? 'held' : 'NOT HELD'}: ${what} (${String(seen)})`)
}

/** A process of the program; its lines are kept. */
class Run {
  readonly child: ChildProcess
  readonly ended: Promise<number | null>
  out = ''
  said = ''

  constructor(cli: string, ...args: readonly string[]) {
    this.child = spawn(process.execPath, [cli, ...args], { stdio: ['ignore', 'pipe', 'pipe'] })
    this.child.stdout!.on('data', (bytes) => (this.out += bytes))
    this.child.stderr!.on('data', (bytes) => (this.said += bytes))
    this.ended = new Promise((resolve) => this.child.on('exit', resolve))
  }
}

const stored = (): number => {
  try {
    return readdirSync(join(out, 'records')).filter((name) => name.endsWith('.json')).length
  } catch {
    return 0
  }
}

async function until(what: () => boolean, mostS: number): Promise<boolean> {
  for (const end = Date.now() + 1000 * mostS; Date.now() < end; ) {
    if (what()) return true
    await new Promise((done) => setTimeout(done, 50))
  }
  return false
}

async function main(): Promise<void> {
  needRedis()
  const cli = ownBuild()
  writeTinyDrives(logs, DRIVES)
  const server = await RedisServer.on(join(root, 'redis'))
  const url = `redis://127.0.0.1:${server.port}`
  const shared = ['--shared', root]
  const worker = () => new Run(cli, 'worker', '--queue', url, ...shared, '--cores', '1', '--silence', '4')
  const batch = () => new Run(cli, 'batch', logs, '--out', out, '--queue', url, ...shared)
  const running: Run[] = []
  try {
    const giver = batch()
    const workers = [worker(), worker()]
    running.push(giver, ...workers)
    await until(() => stored() >= DRIVES * 0.2, 600)
    const before = stored()
    workers[0]!.child.kill('SIGKILL')
    console.log(`${seconds()}  one worker killed with -9, ${before} of ${DRIVES} stored`)
    await until(() => stored() >= DRIVES * 0.45, 600)
    const atKill = stored()
    await server.kill()
    console.log(`${seconds()}  the server killed with -9, ${atKill} of ${DRIVES} stored`)
    await new Promise((done) => setTimeout(done, 1500))
    await server.start()
    console.log(`${seconds()}  the server started again on its append-only file`)
    const exit = await giver.ended
    check('the worker was killed in the middle', before > 0 && before < DRIVES, before)
    check('the server was killed in the middle', atKill < DRIVES, atKill)
    check('the batch ended as reviews of these drives do', exit === 3, `exit ${exit}`)
    check(
      'it said that the connection was lost and came back',
      /is lost[\s\S]*connected again/.test(giver.said),
      'stderr',
    )
    const records = readRecords(out)
    check(`${DRIVES} results are stored, none lost`, records.length === DRIVES, records.length)
    check(
      'each was reviewed',
      records.every(({ state }) => state === 'reviewed'),
      records.length,
    )
    const [{ rows, drives }] = (await duck(
      `select count(*)::int as rows, count(distinct drive)::int as drives
       from read_parquet('${out}/data/drives/*/*/*/*.parquet', hive_partitioning=true)`,
    )) as [{ rows: number; drives: number }]
    check(
      'none is there twice in the data set',
      rows === DRIVES && drives === DRIVES,
      `${rows} rows, ${drives} drives`,
    )
    const asides = readdirSync(out, { recursive: true, encoding: 'utf8' }).filter((name) =>
      name.includes('.aside'),
    )
    check('at most the killed worker left a file unfinished', asides.length <= 1, asides.length)
    const again = batch()
    running.push(again)
    check(
      'a second run reviews nothing',
      (await again.ended) === 3 && /, 0 to review/.test(again.said),
      again.said.split('\n')[0],
    )
    await deadJobs(cli, url, running)
    workers[1]!.child.kill('SIGTERM')
    check('a worker that is told to end does', (await workers[1]!.ended) === 0, 'exit 0')
  } finally {
    for (const { child } of running) child.kill('SIGKILL')
    await server.kill()
    rmSync(root, { recursive: true, force: true })
  }
}

/** A drive whose log changes after it was put on the queue is given up, with its sentence. */
async function deadJobs(cli: string, url: string, running: Run[]): Promise<void> {
  const folder = join(root, 'late')
  writeTinyDrives(folder, 1)
  const path = join(folder, 'juniper/drive-000/log.csv')
  writeFileSync(path, readFileSync(path, 'utf8').replaceAll('40.', '41.'))
  const plain = readFileSync(path)
  const { Queue } = await import('bullmq')
  const { Redis } = await import('ioredis')
  const redis = new Redis(url, { maxRetriesPerRequest: null })
  const queue = new Queue('aftermile', { connection: redis })
  await queue.pause()
  const giver = new Run(cli, 'batch', folder, '--out', out, '--queue', url, '--shared', root)
  running.push(giver)
  await until(() => /are on the queue/.test(giver.said), 60)
  writeFileSync(path, Buffer.concat([plain, Buffer.from('30.0,60.0,23.00,40.0,3.8,3.8,3.8,3.8,3.8,3.8\n')]))
  await queue.resume()
  const exit = await giver.ended
  check(
    'a drive that cannot be done is listed with its sentence, exit 2',
    exit === 2 && /given up .*has changed since the drive was put on the list/.test(giver.out),
    giver.out.split('\n')[1],
  )
  await queue.close()
  redis.disconnect()
}

try {
  await main()
} catch (error) {
  failed++
  console.log((error as Error).message)
}
if (existsSync(root)) rmSync(root, { recursive: true, force: true })
console.log(`${passed} passed, ${failed} failed`)
process.exitCode = failed > 0 ? 1 : 0
