import { LogError } from '../errors.ts'
import type { BatchJob } from './batch-job.ts'
import { Pool } from './pool.ts'
import type { BatchRecord } from './results.ts'
import { waitForRoom } from './room.ts'

/** How a drive of a batch ended: with a record, or without one and why. */
export type JobEnd =
  | { readonly job: BatchJob; readonly record: BatchRecord; readonly fresh: boolean }
  | { readonly job: BatchJob; readonly failed: string; readonly ours: boolean }

export interface RunOptions {
  readonly out: string
  readonly cores: number
  /** How long a full disk is waited for, ms. */
  readonly patienceMs: number
  readonly say: (sentence: string) => void
  readonly done: (end: JobEnd) => void
}

/**
 * Reviews drives on this machine's cores. A disk that is full stops all with a sentence; when there is room it goes on.
 * @throws LogError where no room came: what is stored stays, and the same command goes on from there
 */
export async function runLocal(jobs: readonly BatchJob[], options: RunOptions): Promise<void> {
  const { out, cores, patienceMs, say, done } = options
  const pool = new Pool(Math.min(cores, jobs.length))
  const waiting = [...jobs]
  let stored = 0
  let room: Promise<boolean> | null = null
  const wait = (why: string): Promise<boolean> => {
    if (room === null) {
      say(
        `${why.replace(/\.$/, '')}: ${stored} of ${jobs.length} drives are stored, the rest waits for room.`,
      )
      room = waitForRoom(out, patienceMs).then((there) => {
        room = null
        if (there) say('There is room again: going on.')
        return there
      })
    }
    return room
  }
  let full: string | null = null
  const lane = async (): Promise<void> => {
    for (let job = waiting.shift(); job !== undefined && full === null; job = waiting.shift())
      try {
        done({ job, record: await pool.run(out, job), fresh: true })
        stored++
      } catch (error) {
        if (error instanceof LogError && error.code === 'disk') {
          waiting.unshift(job)
          if (!(await wait(error.message))) full = error.message
        } else
          done({
            job,
            failed: (error as Error).message,
            ours: !(error instanceof LogError) || error.code === 'thread-died',
          })
      }
  }
  try {
    await Promise.all(Array.from({ length: pool.size }, lane))
  } finally {
    await pool.close()
  }
  if (full !== null)
    throw new LogError(
      'disk',
      `${(full as string).replace(/\.$/, '')}; ${stored} of ${jobs.length} drives are stored. Make room and run the same command again: it goes on from there.`,
    )
}
