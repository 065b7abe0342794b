import { Worker } from 'node:worker_threads'

/** How a task ends; what comes after the first is passed over. */
export interface End<Answer> {
  done(answer: Answer): void
  failed(error: Error): void
}

/**
 * One task in a worker of its own, which ends with it. `file` runs as the worker, with `workerData`.
 * @param hear gets each message, and ends the task with its last
 * @param died the error where the worker ended without an answer, from why
 * @param stop aborted: the worker is ended at once
 */
export function inWorker<Message, Answer>(
  file: string,
  workerData: object,
  hear: (message: Message, end: End<Answer>) => void,
  died: (why: string) => Error,
  stop?: AbortSignal,
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    let ended = false
    const end: End<Answer> = {
      done(answer) {
        ended = true
        resolve(answer)
      },
      failed(error) {
        ended = true
        reject(error)
      },
    }
    const lost = (why: string) => {
      if (!ended) end.failed(died(why))
    }
    const worker = new Worker(file, { workerData })
    worker.on('message', (message: Message) => hear(message, end))
    worker.on('error', (error) => lost(error.stack ?? error.message))
    worker.on('exit', (code) => lost(`the worker ended (exit ${code})`))
    stop?.addEventListener('abort', () => {
      end.failed(stop.reason)
      void worker.terminate()
    })
  })
}
