import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { Worker } from 'node:worker_threads'
import { LogError } from '../errors.ts'
import type { BatchJob } from './batch-job.ts'
import { doJob } from './do-job.ts'
import type { ThreadAnswer } from './pool-thread.ts'
import type { BatchRecord } from './results.ts'

/**
 * The threads of this machine: as many drives at once as it has, each thread kept for the next drive. One that dies
 * takes its drive's try with it and nothing else. From TypeScript sources, where a thread cannot load them, drives are
 * reviewed one after the other in this thread.
 */
export class Pool {
  readonly size: number
  readonly #idle: Worker[] = []
  readonly #waiting: ((worker: Worker) => void)[] = []
  #made = 0

  constructor(size: number) {
    this.size = size
  }

  /** Reviews a drive and stores its results in `out`. @throws LogError as `doJob` does, and where the thread died */
  async run(out: string, job: BatchJob): Promise<BatchRecord> {
    const thread = fileURLToPath(new URL('./pool-thread.js', import.meta.url))
    if (!existsSync(thread)) return doJob(out, job)
    const worker = await this.#take(thread)
    return new Promise((resolve, reject) => {
      const settle = (done: () => void): void => {
        worker.removeAllListeners()
        done()
      }
      worker.on('message', (answer: ThreadAnswer) =>
        settle(() => {
          this.#give(worker)
          if ('record' in answer) resolve(answer.record)
          else if (answer.code === null) reject(new Error(answer.sentence))
          else reject(new LogError(answer.code, answer.sentence))
        }),
      )
      const died = (why: string): void =>
        settle(() => {
          this.#made--
          void worker.terminate()
          reject(
            new LogError(
              'thread-died',
              `${job.name}: the review ended without an answer (${why}), for want of memory or by a fault.`,
            ),
          )
          this.#wake(thread)
        })
      worker.on('error', (error) => died(error.message))
      worker.on('exit', (code) => died(`exit ${code}`))
      worker.postMessage({ out, job })
    })
  }

  async close(): Promise<void> {
    await Promise.all(this.#idle.splice(0).map((worker) => worker.terminate()))
  }

  async #take(thread: string): Promise<Worker> {
    const idle = this.#idle.pop()
    if (idle) return idle
    if (this.#made < this.size) {
      this.#made++
      return new Worker(thread)
    }
    return new Promise((resolve) => this.#waiting.push(resolve))
  }

  #give(worker: Worker): void {
    const next = this.#waiting.shift()
    if (next) next(worker)
    else this.#idle.push(worker)
  }

  #wake(thread: string): void {
    const next = this.#waiting.shift()
    if (!next) return
    this.#made++
    next(new Worker(thread))
  }
}
