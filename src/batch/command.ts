import { mkdirSync, writeFileSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { join, resolve } from 'node:path'
import { visible } from '../../shared/visible.ts'
import { LogError } from '../errors.ts'
import { diskFault } from '../library/durable.ts'
import type { BatchJob } from './batch-job.ts'
import { batchTable, drivesText, groupsText } from './batch-text.ts'
import { type Beside, RESULTS_MARK } from './find-logs.ts'
import { GROUPINGS } from './group-logs.ts'
import { planBatch } from './plan.ts'
import { isDone, readRecord, readRecords, removeResults } from './results.ts'
import { type JobEnd, runLocal } from './run-local.ts'

export interface BatchValues {
  readonly out?: string | undefined
  readonly queue?: string | undefined
  readonly shared?: string | undefined
  readonly group?: string | undefined
  readonly groups?: string | undefined
  readonly cores?: string | undefined
  readonly wait?: string | undefined
  readonly vehicle?: string | undefined
  readonly signals?: string | undefined
  readonly map?: string | undefined
  readonly json?: boolean | undefined
}

/** What was asked, checked. */
interface Asked {
  readonly out: string
  readonly by: (typeof GROUPINGS)[number]
  readonly cores: number
  readonly patienceMs: number
}

function askedOf(folders: readonly string[], values: BatchValues): Asked {
  if (folders.length === 0 && values.groups === undefined)
    throw new LogError('usage', 'aftermile batch: no folder was named; at least one was expected.')
  const by = GROUPINGS.find((each) => each === (values.group ?? 'auto'))
  if (!by)
    throw new LogError(
      'usage',
      `aftermile batch: there is no --group ${values.group}; ${GROUPINGS.join(', ')} were expected.`,
    )
  return {
    out: resolve(values.out ?? 'aftermile-results'),
    by,
    cores: whole('cores', values.cores, availableParallelism(), 1, 256),
    patienceMs: 1000 * whole('wait', values.wait, 600, 0, 86_400),
  }
}

/** `aftermile batch FOLDER…`: every drive under the folders, reviewed once. Gives the exit status. */
export async function runBatch(
  folders: readonly string[],
  values: BatchValues,
  write: (text: string) => unknown,
  complain: (text: string) => unknown,
): Promise<number> {
  const started = Date.now()
  const { out, by, cores, patienceMs } = askedOf(folders, values)
  const say = (sentence: string): void => void complain(visible(`${sentence}\n`))
  makeFolder(out)
  const { jobs, notes } = await planBatch(folders, {
    ...{ out, by, groups: values.groups, given: besideOf(values) },
    progress: (logs) => void (logs % 200 === 0 && complain(`${logs} logs looked at\n`)),
  })
  if (jobs.length === 0 && notes.length === 0)
    throw new LogError(
      'usage',
      `${folders.join(', ')}: holds no log; CSV, Parquet, pcap or pcapng were expected.`,
    )
  const open = jobs.filter((job) => !isDone(out, job))
  say(`${drivesText(jobs.length)}, ${open.length} to review; results in ${out}`)
  complain(visible(groupsText(open)))
  const ends = new Map<string, JobEnd>()
  const told = progressOf(open.length, complain)
  const done = (end: JobEnd): void => {
    ends.set(end.job.key, end)
    told(end)
  }
  if (open.length > 0 && values.queue === undefined)
    await runLocal(open, { out, cores, patienceMs, say, done })
  else if (open.length > 0) {
    const { runQueue } = await import('./run-queue.ts')
    await runQueue(open, { url: values.queue!, out, shared: values.shared, say, done })
  }
  const all = jobs.map(
    (job): JobEnd => ends.get(job.key) ?? { job, record: readRecord(out, job.key)!, fresh: false },
  )
  dropChanged(
    out,
    all.flatMap((end) => ('record' in end ? [end.job] : [])),
  )
  write(values.json ? endsJson(all) : visible(batchTable(all, notes, (Date.now() - started) / 1000)))
  if (values.json) for (const note of notes) say(note)
  return statusOf(all, notes)
}

function endsJson(ends: readonly JobEnd[]): string {
  const plain = ends.map((end) =>
    'record' in end
      ? { ...end.record, fresh: end.fresh }
      : { key: end.job.key, name: end.job.name, state: 'given-up', sentence: end.failed },
  )
  return `${JSON.stringify(plain, null, 1)}\n`
}

/** As of `review`: what failed first, then 1, 3, 0. */
function statusOf(ends: readonly JobEnd[], notes: readonly string[]): number {
  if (ends.some((end) => 'failed' in end && end.ours)) return 4
  const unread = notes.some((note) => !/reviewed once\.$/.test(note))
  if (unread || ends.some((end) => 'failed' in end || end.record.state === 'refused')) return 2
  const exits = ends.map((end) => ('record' in end ? end.record.exit : 2))
  return [1, 3].find((status) => exits.includes(status)) ?? 0
}

/** A drive whose logs lie where another's lay is that drive, changed: what was said of the old logs goes. */
function dropChanged(out: string, jobs: readonly BatchJob[]): void {
  const keyOf = new Map(jobs.map(({ name, key }) => [name, key]))
  const keys = new Set(jobs.map(({ key }) => key))
  for (const record of readRecords(out)) {
    const now = keyOf.get(record.name)
    if (now !== undefined && now !== record.key && !keys.has(record.key)) removeResults(out, record)
  }
}

function progressOf(total: number, complain: (text: string) => unknown): (end: JobEnd) => void {
  const started = Date.now()
  let done = 0
  return (end) => {
    done++
    const leftS = ((Date.now() - started) / 1000 / done) * (total - done)
    const left =
      done < total
        ? `, about ${leftS < 90 ? `${Math.ceil(leftS)} s` : `${Math.ceil(leftS / 60)} min`} left`
        : ''
    const what = 'record' in end ? (end.record.verdict ?? 'not read') : 'given up'
    complain(visible(`${done} of ${total}  ${end.job.name}: ${what}${left}\n`))
  }
}

function besideOf({ vehicle, signals, map }: BatchValues): Beside {
  return {
    ...(vehicle === undefined ? {} : { vehicle: resolve(vehicle) }),
    ...(signals === undefined ? {} : { signals: resolve(signals) }),
    ...(map === undefined ? {} : { map: resolve(map) }),
  }
}

/** @throws LogError where it is no whole number between the two */
export function whole(
  option: string,
  text: string | undefined,
  otherwise: number,
  least: number,
  most: number,
): number {
  if (text === undefined) return otherwise
  const value = Number(text)
  if (!Number.isInteger(value) || value < least || value > most)
    throw new LogError('usage', `--${option} ${text}: a whole number from ${least} to ${most} was expected.`)
  return value
}

function makeFolder(out: string): void {
  try {
    mkdirSync(out, { recursive: true })
    writeFileSync(join(out, RESULTS_MARK), '')
  } catch (error) {
    const why = diskFault(error) ?? (error as NodeJS.ErrnoException).code ?? String(error)
    throw new LogError('data-dir', `${out}: cannot be used for results (${why}).`)
  }
}
