import { availableParallelism } from 'node:os'
import { visible } from '../../shared/visible.ts'
import { LogError } from '../errors.ts'
import { whole } from './command.ts'
import { Pool } from './pool.ts'
import { connect, takeJobs } from './queue.ts'
import { arrive } from './shared-paths.ts'

/** `aftermile worker --queue URL`: takes drives from the queue until it is told to end. Gives the exit status. */
export async function runWorker(
  values: {
    readonly queue?: string | undefined
    readonly shared?: string | undefined
    readonly cores?: string | undefined
    readonly silence?: string | undefined
  },
  complain: (text: string) => unknown,
): Promise<number> {
  if (values.queue === undefined)
    throw new LogError(
      'usage',
      'aftermile worker: --queue URL is missing; such as redis://host:6379 was expected.',
    )
  const cores = whole('cores', values.cores, availableParallelism(), 1, 256)
  const silentMs = 1000 * whole('silence', values.silence, 30, 1, 3600)
  const say = (sentence: string): void => void complain(visible(`${sentence}\n`))
  const redis = await connect(values.queue, say)
  const pool = new Pool(cores)
  const worker = await takeJobs(
    redis,
    async (queued) => {
      const { out, job } = arrive(queued, values.shared)
      const record = await pool.run(out, job)
      say(`${job.name}: ${record.verdict ?? 'not read'}`)
    },
    { atOnce: cores, silentMs, asideMs: 5000, say },
  )
  say(`taking drives, ${cores} at once`)
  const signal = await new Promise<string>((resolve) => {
    for (const each of ['SIGINT', 'SIGTERM'] as const) process.once(each, () => resolve(each))
  })
  say(`${signal}: ending when the drives at hand are done`)
  await worker.close()
  await pool.close()
  redis.disconnect()
  return 0
}
