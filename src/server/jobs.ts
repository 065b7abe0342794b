import { createWriteStream, mkdirSync, statSync, writeFileSync } from 'node:fs'
import { readFile, rm } from 'node:fs/promises'
import { totalmem } from 'node:os'
import { join } from 'node:path'
import { type Readable, Transform } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import type { ImportRequest, Job } from '../../shared/api.ts'
import { NoSignalsError, signalTemplate } from '../importers/frames/frames-seen.ts'
import { OWN_FOLDER, step } from '../library/durable.ts'
import { newId } from '../library/ids.ts'
import type { ImportTask } from '../library/import-and-store.ts'
import { ownerText, withLock } from '../library/lock.ts'
import { incomingDir, type Place } from '../library/place.ts'
import { parseVehicle } from '../open/vehicle-file.ts'
import { answerOf, REFUSALS, Refusal } from './errors.ts'

export type RunImport = (
  task: ImportTask,
  progress: (doing: string, share: number) => void,
  /** Aborted: end at once, store nothing. */
  stop: AbortSignal,
) => Promise<string>

/** More identifiers than any bus of a car carries. */
const MOST_FRAMES = 1000
/** Imports at work at once. */
const AT_ONCE = 3
/** An import that says nothing for this long no longer keeps others from beginning, ms. */
const QUIET_MS = 20_000
/** Imports that may lie about, stuck ones included. */
const MOST_AT_ONCE = 24
/** An import that says nothing for this long is ended, ms. */
const SILENT_MS = 15 * 60_000
/** An upload of which nothing came for this long is removed, ms. */
const ABANDONED_MS = 60 * 60_000

interface Underway {
  lastMs: number
  readonly bytes: number
}

interface Waiting {
  readonly bytes: number
  readonly work: (underway: Underway) => Promise<void>
}

interface Upload {
  lastMs: number
  readonly request: ImportRequest
  readonly arrived: Set<number>
}

/** Imports under way: uploads are written to generated paths, then imported, a few at once; each can be cancelled. */
export class Jobs {
  readonly #place: Place
  readonly #run: RunImport
  readonly #limitBytes: number
  readonly #onStored: (driveId: string) => void
  readonly #jobs = new Map<string, Job>()
  readonly #uploads = new Map<string, Upload>()
  readonly #waiting: Waiting[] = []
  /** Imports under way, with when each was last heard of and the memory it may take. */
  readonly #running = new Map<Promise<void>, Underway>()
  readonly #watchers = new Map<string, Set<(job: Job) => void>>()
  readonly #quietMs: number
  #again: NodeJS.Timeout | undefined
  readonly #stops = new Map<string, AbortController>()

  constructor(
    place: Place,
    run: RunImport,
    limitBytes: number,
    onStored: (driveId: string) => void,
    quietMs = QUIET_MS,
  ) {
    this.#quietMs = quietMs
    this.#place = place
    this.#run = run
    this.#limitBytes = limitBytes
    this.#onStored = onStored
  }

  get(id: string): Job {
    const job = this.#jobs.get(id)
    if (!job) throw new Refusal('no-such-import')
    return job
  }

  async announce(request: ImportRequest): Promise<Job> {
    if (!request.files.some((file) => file.role === 'log')) throw new Refusal('no-log')
    if (request.files.reduce((sum, file) => sum + file.bytes, 0) > this.#limitBytes)
      throw new Refusal('too-large', `The limit is ${this.#limitBytes} bytes.`)
    await this.#removeAbandoned()
    const job = this.#add('waiting-for-files', 'Waiting for the files')
    const folder = incomingDir(this.#place, job.id)
    // Under the lock, or another's tidying could find the folder before its owner stands in it; who that is tells the next
    // opening whether anyone still waits for these files.
    withLock(this.#place.dataDir, () => {
      mkdirSync(folder, { recursive: true, mode: OWN_FOLDER })
      step('upload-begun')
      writeFileSync(join(folder, 'owner'), ownerText())
    })
    step('upload-announced')
    this.#uploads.set(job.id, { request, arrived: new Set(), lastMs: Date.now() })
    return job
  }

  /** One file's bytes; `at` counts the announced files from 0. */
  async receive(id: string, at: number, body: Readable): Promise<void> {
    const upload = this.#uploads.get(id)
    const file = upload?.request.files[at]
    if (!upload || !file) throw new Refusal('no-such-import')
    let bytes = 0
    const count = new Transform({
      transform(chunk: Buffer, _encoding, done) {
        bytes += chunk.length
        upload.lastMs = Date.now()
        if (bytes > file.bytes) done(new Refusal('wrong-length'))
        else done(null, chunk)
      },
    })
    await pipeline(body, count, createWriteStream(this.#path(id, at)))
    if (bytes !== file.bytes)
      throw new Refusal('wrong-length', `${file.name}: ${bytes} of ${file.bytes} bytes.`)
    upload.arrived.add(at)
    step('upload-arrived')
  }

  /** All files are here: import them. */
  async start(id: string): Promise<Job> {
    const upload = this.#uploads.get(id)
    if (!upload) throw new Refusal('no-such-import')
    if (upload.arrived.size < upload.request.files.length)
      throw new Refusal('wrong-length', 'Not all files have come.')
    this.#uploads.delete(id)
    const files = upload.request.files.map((file, at) => ({ ...file, path: this.#path(id, at) }))
    const only = (role: string) => files.find((file) => file.role === role)
    const vehicle = only('vehicle')
    try {
      const task: ImportTask = {
        dataDir: this.#place.dataDir,
        logs: files.filter((file) => file.role === 'log').map(({ path, name }) => ({ path, name })),
        vehicle: vehicle ? parseVehicle(await readFile(vehicle.path), vehicle.name) : {},
        signals: only('signals')?.path,
        map: only('map')?.path,
      }
      this.#enqueue(id, task)
    } catch (error) {
      await this.#clean(id)
      this.#update(id, { state: 'failed', error: answerOf(error).sentence })
    }
    return this.get(id)
  }

  /** Imports logs that already lie on disk (a stored drive's, a sample's). */
  run(task: ImportTask): Job {
    const job = this.#add('working', 'Waiting its turn')
    this.#enqueue(job.id, task)
    return job
  }

  /** A job for what is stored already. */
  alreadyDone(driveId: string): Job {
    const { id } = this.#add('done', 'Stored already')
    this.#update(id, { share: 1, drive_id: driveId })
    return this.get(id)
  }

  /** Ends an import or an upload, whatever it is at; what was stored before stays. */
  async cancel(id: string): Promise<Job> {
    const { state } = this.get(id)
    if (state === 'done' || state === 'failed') return this.get(id)
    this.#uploads.delete(id)
    this.#stops.get(id)?.abort(new Refusal('cancelled'))
    await this.#clean(id)
    this.#update(id, { state: 'failed', doing: 'Cancelled', error: REFUSALS.cancelled[1] })
    return this.get(id)
  }

  /** Calls back at each change of a job, until the returned function is called. */
  watch(id: string, tell: (job: Job) => void): () => void {
    const watchers = this.#watchers.get(id) ?? new Set()
    this.#watchers.set(id, watchers.add(tell))
    return () => {
      watchers.delete(tell)
      if (watchers.size === 0) this.#watchers.delete(id)
    }
  }

  /** Waits for imports under way; uploads that were never started go. */
  async idle(): Promise<void> {
    for (const id of [...this.#uploads.keys()]) await this.cancel(id)
    while (this.#running.size > 0) await Promise.all(this.#running.keys())
  }

  async #removeAbandoned(): Promise<void> {
    for (const [id, { lastMs }] of this.#uploads)
      if (Date.now() - lastMs > ABANDONED_MS) await this.cancel(id)
  }

  #enqueue(id: string, task: ImportTask): void {
    this.#update(id, { state: 'working', doing: 'Waiting its turn' })
    const stop = new AbortController()
    this.#stops.set(id, stop)
    const work = async (underway: Underway) => {
      const end = await this.#import(id, task, stop, underway)
      this.#stops.delete(id)
      if (this.get(id).state !== 'working') return
      await this.#clean(id)
      this.#update(id, end)
    }
    this.#waiting.push({ work, bytes: memoryFor(task) })
    this.#next()
  }

  /** Begins what waits, as far as there is room: those that were heard of lately count, and the machine's memory does. */
  #next(): void {
    while (this.#waiting.length > 0 && this.#hasRoom(this.#waiting[0]!.bytes)) {
      const { work, bytes } = this.#waiting.shift()!
      const underway: Underway = { lastMs: Date.now(), bytes }
      // After the answer to whoever asked for it is under way.
      const run = new Promise((done) => setImmediate(done))
        .then(() => work(underway))
        .finally(() => {
          this.#running.delete(run)
          this.#next()
        })
      this.#running.set(run, underway)
    }
    clearTimeout(this.#again)
    if (this.#waiting.length > 0) this.#again = setTimeout(() => this.#next(), this.#quietMs / 4).unref()
  }

  #hasRoom(bytes: number): boolean {
    const underway = [...this.#running.values()]
    const since = Date.now() - this.#quietMs
    if (underway.length >= MOST_AT_ONCE) return false
    if (underway.filter(({ lastMs }) => lastMs > since).length >= AT_ONCE) return false
    const taken = underway.reduce((sum, each) => sum + each.bytes, 0)
    return underway.length === 0 || taken + bytes <= totalmem() * MEMORY_SHARE
  }

  /** Runs one import; gives the state it ends in. */
  async #import(
    id: string,
    task: ImportTask,
    stop: AbortController,
    underway: Underway,
  ): Promise<Partial<Job>> {
    let silent: NodeJS.Timeout | undefined
    const heard = () => {
      underway.lastMs = Date.now()
      clearTimeout(silent)
      silent = setTimeout(() => stop.abort(new Refusal('stuck')), SILENT_MS)
      silent.unref()
    }
    try {
      stop.signal.throwIfAborted()
      heard()
      const work = this.#run(
        task,
        (doing, share) => {
          heard()
          if (this.get(id).state === 'working') this.#update(id, { doing, share })
        },
        stop.signal,
      )
      const drive = await Promise.race([work, aborted(stop.signal)])
      this.#onStored(drive)
      return { state: 'done', doing: 'Done', share: 1, drive_id: drive }
    } catch (error) {
      const { status, sentence } = answerOf(error)
      if (status >= 500) process.stderr.write(`import failed: ${(error as Error)?.stack ?? error}\n`)
      return { state: 'failed', error: sentence, ...wantsSignals(error) }
    } finally {
      clearTimeout(silent)
    }
  }

  async #clean(id: string): Promise<void> {
    await rm(incomingDir(this.#place, id), { recursive: true, force: true })
  }

  #path(id: string, at: number): string {
    return join(incomingDir(this.#place, id), String(at + 1))
  }

  #add(state: Job['state'], doing: string): Job {
    const job: Job = { id: newId(), state, doing, share: 0, drive_id: null, error: null }
    this.#jobs.set(job.id, job)
    return job
  }

  #update(id: string, change: Partial<Job>): void {
    const job = { ...this.get(id), ...change }
    this.#jobs.set(id, job)
    for (const tell of this.#watchers.get(id) ?? []) tell(job)
  }
}

/** Of the machine's memory, what imports together may be expected to take. */
const MEMORY_SHARE = 0.75
/** What an import takes: three bytes for one of an unpacked log and 256 MB, by the bound that `npm run fuzz` holds. */
const BYTES_PER_BYTE = 3
const BYTES_AT_LEAST = 256 * 2 ** 20
/** Logs of a car pack to about a tenth (common practice, no source). */
const PACKED = 10

/** Memory that an import may take, bytes, from the sizes of its logs. */
function memoryFor({ logs }: ImportTask): number {
  const unpacked = logs.reduce((sum, { path, name }) => {
    const bytes = statSync(path, { throwIfNoEntry: false })?.size ?? 0
    return sum + bytes * (/\.gz$/i.test(name) ? PACKED : 1)
  }, 0)
  return BYTES_AT_LEAST + BYTES_PER_BYTE * unpacked
}

/** A capture that only lacks its signal table: the page shows what was seen, and a table to fill. */
function wantsSignals(error: unknown): Pick<Job, 'wants_signals'> {
  if (!(error instanceof NoSignalsError)) return {}
  const frames = error.frames.slice(0, MOST_FRAMES)
  return {
    wants_signals: {
      log: error.log,
      frames: [...frames],
      template: signalTemplate(frames),
      rows: [...error.proposed],
    },
  }
}

function aborted(signal: AbortSignal): Promise<never> {
  return new Promise((_, reject) => {
    signal.addEventListener('abort', () => reject(signal.reason), { once: true })
  })
}
