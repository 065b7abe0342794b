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
  /** How the drive that each thread is at ends. */
  readonly #at = new Map<
    Worker,
    { done(record: BatchRecord): void; failed(error: Error): void; name: string }
  >()
  #made = 0

  constructor(size: number) {
    this.size = size
  }

  /** Reviews a drive and stores its results in `out`. @throws LogError as `doJob` does, and where the thread died */
  async run(out: string, job: BatchJob): Promise<BatchRecord> {
    const thread = fileURLToPath(new URL('./pool-thread.js', import.meta.url))
    if (!existsSync(thread)) return doJob(out, job)
    const worker = this.#idle.pop() ?? (await this.#another(thread))
    return new Promise((done, failed) => {
      this.#at.set(worker, { done, failed, name: job.name })
      worker.postMessage({ out, job })
    })
  }

  async close(): Promise<void> {
    await Promise.all(this.#idle.splice(0).map((worker) => worker.terminate()))
  }

  #another(thread: string): Worker | Promise<Worker> {
    if (this.#made < this.size) return this.#make(thread)
    return new Promise((resolve) => this.#waiting.push(resolve))
  }

  #make(thread: string): Worker {
    this.#made++
    const worker = new Worker(thread)
    worker.on('message', (answer: ThreadAnswer) => {
      const at = this.#at.get(worker)
      this.#at.delete(worker)
      this.#give(worker)
      if ('record' in answer) at?.done(answer.record)
      else
        at?.failed(
          answer.code === null ? new Error(answer.sentence) : new LogError(answer.code, answer.sentence),
        )
    })
    let why = ''
    worker.on('error', (error) => (why = `${error.message}; `))
    worker.on('exit', () => {
      this.#made--
      const at = this.#at.get(worker)
      this.#at.delete(worker)
      at?.failed(
        new LogError(
          'thread-died',
          `${at.name}: the review ended without an answer (${why}for want of memory or by a fault).`,
        ),
      )
      const next = this.#waiting.shift()
      if (next) next(this.#make(thread))
    })
    return worker
  }

  #give(worker: Worker): void {
    const next = this.#waiting.shift()
    if (next) next(worker)
    else this.#idle.push(worker)
  }
}
