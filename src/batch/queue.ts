import type { Job, Queue, Worker } from 'bullmq'
import type { Redis } from 'ioredis'
import { LogError } from '../errors.ts'
import { type BatchJob, jobId } from './batch-job.ts'

/** What travels: the drive and where its results go, paths as both sides see them. */
export interface QueuedJob {
  readonly out: string
  readonly job: BatchJob
}

const NAME = 'aftermile'
/** Tries of a drive before it is given up; the wait between them doubles from the first, ms. */
const TRIES = 5
const FIRST_WAIT_MS = 1000
/** How long the first answer of a server is waited for, ms. */
const FIRST_ANSWER_MS = 10_000

/** The server without user and password, as it may be printed. */
function place(url: string): string {
  try {
    const { protocol, host, pathname } = new URL(url)
    if (!/^rediss?:$/.test(protocol) || host === '') throw new Error(protocol)
    return `${protocol}//${host}${pathname === '/' ? '' : pathname}`
  } catch {
    throw new LogError(
      'usage',
      `--queue ${url}: is no address of a queue; such as redis://host:6379 was expected.`,
    )
  }
}

/**
 * A connection that outlives its server: what is asked meanwhile waits. Says once when it is lost and once when it is back.
 * @throws LogError where no server answers at all
 */
export async function connect(url: string, say: (sentence: string) => void): Promise<Redis> {
  const where = place(url)
  const { Redis } = await import('ioredis')
  const redis = new Redis(url, {
    maxRetriesPerRequest: null,
    retryStrategy: (times) => Math.min(2000, 100 * times),
  })
  let why = 'no answer'
  let lost: boolean | null = null
  redis.on('error', (error: Error) => {
    why = (error as NodeJS.ErrnoException).code ?? error.message
  })
  redis.on('close', () => {
    if (lost === false) say(`${where}: the connection to the queue is lost; waiting for it.`)
    if (lost !== null) lost = true
  })
  redis.on('ready', () => {
    if (lost) say(`${where}: connected again.`)
    lost = false
  })
  const first = new Promise<false>((done) => setTimeout(() => done(false), FIRST_ANSWER_MS).unref())
  const there = await Promise.race([redis.ping().catch(() => false), first])
  if (there === false) {
    redis.disconnect()
    throw new LogError(
      'queue',
      `${where}: no queue answers there (${why}); a Redis-compatible server was expected.`,
    )
  }
  return redis
}

export async function openQueue(redis: Redis): Promise<Queue<QueuedJob>> {
  const { Queue } = await import('bullmq')
  const queue = new Queue<QueuedJob>(NAME, {
    connection: redis,
    defaultJobOptions: {
      attempts: TRIES,
      backoff: { type: 'exponential', delay: FIRST_WAIT_MS },
      // What is done lies in the results' folder; what is given up stays here with its sentence.
      removeOnComplete: true,
      removeOnFail: false,
    },
  })
  queue.on('error', () => {})
  return queue
}

/** Puts drives on the queue; one that is there already is not put there twice, one given up before is tried anew. */
export async function enqueue(
  queue: Queue<QueuedJob>,
  out: string,
  jobs: readonly BatchJob[],
): Promise<void> {
  for (const job of jobs) {
    const before = await queue.getJob(jobId(job))
    if (before && (await before.isFailed())) await before.remove().catch(() => {})
  }
  await queue.addBulk(
    jobs.map((job) => ({ name: 'review', data: { out, job }, opts: { jobId: jobId(job) } })),
  )
}

export interface TakeOptions {
  readonly atOnce: number
  /** A worker that is silent for so long is taken for gone: its drives go to others, ms. */
  readonly silentMs: number
  /** How long a drive is laid aside where the disk is full, ms. */
  readonly asideMs: number
  readonly say: (sentence: string) => void
}

/** Takes drives from the queue until it is closed. Delivery is at least once; results lie at one place by their hash. */
export async function takeJobs(
  redis: Redis,
  work: (queued: QueuedJob) => Promise<void>,
  { atOnce, silentMs, asideMs, say }: TakeOptions,
): Promise<Worker<QueuedJob>> {
  const { DelayedError, UnrecoverableError, Worker } = await import('bullmq')
  let full = false
  const handle = async (job: Job<QueuedJob>, token?: string): Promise<void> => {
    try {
      await work(job.data)
      if (full) say('There is room again: going on.')
      full = false
    } catch (error) {
      if (!(error instanceof LogError)) throw error
      if (error.code === 'changed') throw new UnrecoverableError(error.message)
      if (error.code !== 'disk') throw error
      // A full disk is nobody's fault: the drive keeps its tries.
      if (!full) say(`${error.message.replace(/\.$/, '')}: waiting for room.`)
      full = true
      await job.moveToDelayed(Date.now() + asideMs, token)
      throw new DelayedError()
    }
  }
  const worker = new Worker<QueuedJob>(NAME, handle, {
    connection: redis,
    concurrency: atOnce,
    lockDuration: silentMs,
    stalledInterval: silentMs / 2,
    // A drive that takes down every worker that touches it is given up.
    maxStalledCount: TRIES - 1,
  })
  worker.on('error', () => {})
  return worker
}

/** Drives that were given up, each with its sentence, by key. */
export async function givenUp(queue: Queue<QueuedJob>): Promise<Map<string, string>> {
  const failed = await queue.getFailed(0, 100_000)
  return new Map(
    failed.map(({ data, failedReason, attemptsMade }) => [
      data.job.key,
      `${failedReason ?? 'no reason was kept'} (given up after ${attemptsMade} ${attemptsMade === 1 ? 'try' : 'tries'})`,
    ]),
  )
}
