import { fileURLToPath } from 'node:url'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'
import type { FrameSeen } from '../../shared/api.ts'
import { LogError } from '../errors.ts'
import { NoSignalsError } from '../importers/frames/frames-seen.ts'
import { type ImportTask, importAndStore } from './import-and-store.ts'

type Message =
  | { readonly doing: string; readonly share: number }
  | { readonly id: string }
  | { readonly log: string; readonly frames: readonly FrameSeen[] }
  | { readonly code: string; readonly sentence: string }

/**
 * Imports in a worker, so that the page keeps being answered. Run from TypeScript sources (tests), where a worker
 * cannot load them, it imports in this thread.
 */
export function importInWorker(
  task: ImportTask,
  progress: (doing: string, share: number) => void,
): Promise<string> {
  const here = fileURLToPath(import.meta.url)
  if (!here.endsWith('.js')) return importAndStore(task, progress)
  return new Promise((resolve, reject) => {
    const worker = new Worker(here, { workerData: { aftermileImport: task } })
    worker.on('message', (message: Message) => {
      if ('doing' in message) progress(message.doing, message.share)
      else if ('id' in message) resolve(message.id)
      else if ('frames' in message) reject(new NoSignalsError(message.log, message.frames))
      else reject(new LogError(message.code, message.sentence))
    })
    worker.on('error', reject)
    worker.on('exit', (code) => reject(new Error(`the import ended without an answer (exit ${code})`)))
  })
}

if (!isMainThread && parentPort && workerData?.aftermileImport) {
  const port = parentPort
  const send = (message: Message) => port.postMessage(message)
  importAndStore(workerData.aftermileImport, (doing, share) => send({ doing, share })).then(
    (id) => send({ id }),
    (error: unknown) => {
      if (error instanceof NoSignalsError) send({ log: error.log, frames: error.frames })
      else if (error instanceof LogError) send({ code: error.code, sentence: error.message })
      else throw error
    },
  )
}
