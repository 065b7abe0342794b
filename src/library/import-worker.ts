import { fileURLToPath } from 'node:url'
import { isMainThread, parentPort, workerData } from 'node:worker_threads'
import type { FrameSeen, ProposedRow } from '../../shared/api.ts'
import { LogError } from '../errors.ts'
import { NoSignalsError } from '../importers/frames/frames-seen.ts'
import { type ImportTask, importAndStore } from './import-and-store.ts'
import { inWorker } from './in-worker.ts'

type Message =
  | { readonly doing: string; readonly share: number }
  | { readonly id: string }
  | {
      readonly log: string
      readonly frames: readonly FrameSeen[]
      readonly proposed: readonly ProposedRow[]
    }
  | { readonly code: string; readonly sentence: string }

/**
 * Imports in a worker, so that the page keeps being answered. Run from TypeScript sources (tests), where a worker
 * cannot load them, it imports in this thread.
 */
export function importInWorker(
  task: ImportTask,
  progress: (doing: string, share: number) => void,
  stop?: AbortSignal,
): Promise<string> {
  const here = fileURLToPath(import.meta.url)
  if (!here.endsWith('.js')) return importAndStore(task, progress)
  return inWorker<Message, string>(
    here,
    { aftermileImport: task },
    (message, end) => {
      if ('doing' in message) progress(message.doing, message.share)
      else if ('id' in message) end.done(message.id)
      else if ('frames' in message)
        end.failed(
          Object.assign(new NoSignalsError(message.log, message.frames), { proposed: message.proposed }),
        )
      else end.failed(new LogError(message.code, message.sentence))
    },
    (why) => {
      process.stderr.write(`import: ${why}\n`)
      return new LogError(
        'import-died',
        'The import ended without an answer, for want of memory or by a fault.',
      )
    },
    stop,
  )
}

if (!isMainThread && parentPort && workerData?.aftermileImport) {
  const port = parentPort
  const send = (message: Message) => port.postMessage(message)
  importAndStore(workerData.aftermileImport, (doing, share) => send({ doing, share })).then(
    (id) => send({ id }),
    (error: unknown) => {
      if (error instanceof NoSignalsError)
        send({ log: error.log, frames: error.frames, proposed: error.proposed })
      else if (error instanceof LogError) send({ code: error.code, sentence: error.message })
      else throw error
    },
  )
}
