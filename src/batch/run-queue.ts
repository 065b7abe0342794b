import type { BatchJob } from './batch-job.ts'
import { connect, enqueue, givenUp, openQueue } from './queue.ts'
import { isDone, readRecord } from './results.ts'
import type { JobEnd } from './run-local.ts'
import { leave } from './shared-paths.ts'

/** How often the results' folder is looked into, ms. */
const LOOK_MS = 1000
/** Looks between two askings of the queue itself: what was given up, what a server without a memory forgot. */
const ASK_EVERY = 5

/**
 * Gives drives to the workers of a queue and waits for their results in the shared folder. The folder is the truth: a
 * server that comes back empty is given the rest again.
 */
export async function runQueue(
  jobs: readonly BatchJob[],
  options: {
    readonly url: string
    readonly out: string
    readonly shared?: string | undefined
    readonly say: (sentence: string) => void
    readonly done: (end: JobEnd) => void
  },
): Promise<void> {
  const { url, out, shared, say, done } = options
  const redis = await connect(url, say)
  const queue = await openQueue(redis)
  const open = new Map(jobs.map((job) => [job.key, job]))
  const put = (which: readonly BatchJob[]): Promise<void> => {
    const left = which.map((job) => leave({ out, job }, shared))
    return enqueue(
      queue,
      left[0]!.out,
      left.map(({ job }) => job),
    )
  }
  try {
    await put(jobs)
    say(
      `${jobs.length} drives are on the queue; aftermile worker --queue takes them, on any number of machines.`,
    )
    for (let look = 1; open.size > 0; look++) {
      await new Promise((wait) => setTimeout(wait, LOOK_MS))
      for (const job of [...open.values()])
        if (isDone(out, job)) {
          open.delete(job.key)
          done({ job, record: readRecord(out, job.key)!, fresh: true })
        }
      if (look % ASK_EVERY !== 0 || open.size === 0 || redis.status !== 'ready') continue
      const dead = await givenUp(queue)
      for (const job of [...open.values()]) {
        const why = dead.get(job.key)
        if (why === undefined || isDone(out, job)) continue
        open.delete(job.key)
        done({ job, failed: why, ours: false })
      }
      const {
        active = 0,
        waiting = 0,
        delayed = 0,
        prioritized = 0,
      } = await queue.getJobCounts('active', 'waiting', 'delayed', 'prioritized')
      if (active + waiting + delayed + prioritized < open.size) await put([...open.values()])
    }
  } finally {
    await queue.close().catch(() => {})
    redis.disconnect()
  }
}
