import { isMainThread, parentPort } from 'node:worker_threads'
import { LogError } from '../errors.ts'
import type { BatchJob } from './batch-job.ts'
import { doJob } from './do-job.ts'
import type { BatchRecord } from './results.ts'

/** What a thread of the pool answers; `code` is null where the program itself failed. */
export type ThreadAnswer =
  | { readonly record: BatchRecord }
  | { readonly code: string | null; readonly sentence: string }

if (!isMainThread && parentPort) {
  const port = parentPort
  port.on('message', ({ out, job }: { out: string; job: BatchJob }) => {
    doJob(out, job).then(
      (record) => port.postMessage({ record } satisfies ThreadAnswer),
      (error: unknown) =>
        port.postMessage({
          code: error instanceof LogError ? error.code : null,
          sentence: error instanceof Error ? error.message : String(error),
        } satisfies ThreadAnswer),
    )
  })
}
