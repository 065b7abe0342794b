import { createWriteStream } from 'node:fs'
import { mkdir, readFile, rm } from 'node:fs/promises'
import { join } from 'node:path'
import { type Readable, Transform } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import type { ImportRequest, Job } from '../../shared/api.ts'
import { NoSignalsError, signalTemplate } from '../importers/frames/frames-seen.ts'
import { newId } from '../library/ids.ts'
import type { ImportTask } from '../library/import-and-store.ts'
import { incomingDir, type Place } from '../library/place.ts'
import { parseVehicle } from '../open/vehicle-file.ts'
import { answerOf, Refusal } from './errors.ts'

export type RunImport = (
  task: ImportTask,
  progress: (doing: string, share: number) => void,
) => Promise<string>

/** More identifiers than any bus of a car carries. */
const MOST_FRAMES = 1000

interface Upload {
  readonly request: ImportRequest
  readonly arrived: Set<number>
}

/** Imports under way: uploads are written to generated paths, then one import after the other is run. */
export class Jobs {
  readonly #place: Place
  readonly #run: RunImport
  readonly #limitBytes: number
  readonly #onStored: (driveId: string) => void
  readonly #jobs = new Map<string, Job>()
  readonly #uploads = new Map<string, Upload>()
  #queue: Promise<unknown> = Promise.resolve()

  constructor(place: Place, run: RunImport, limitBytes: number, onStored: (driveId: string) => void) {
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
    const job = this.#add('waiting-for-files', 'Waiting for the files')
    await mkdir(incomingDir(this.#place, job.id), { recursive: true })
    this.#uploads.set(job.id, { request, arrived: new Set() })
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
        if (bytes > file.bytes) done(new Refusal('wrong-length'))
        else done(null, chunk)
      },
    })
    await pipeline(body, count, createWriteStream(this.#path(id, at)))
    if (bytes !== file.bytes)
      throw new Refusal('wrong-length', `${file.name}: ${bytes} of ${file.bytes} bytes.`)
    upload.arrived.add(at)
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

  async idle(): Promise<void> {
    await this.#queue
  }

  #enqueue(id: string, task: ImportTask): void {
    this.#update(id, { state: 'working', doing: 'Waiting its turn' })
    this.#queue = this.#queue.then(async () => {
      const end = await this.#import(id, task)
      await this.#clean(id)
      this.#update(id, end)
    })
  }

  /** Runs one import; gives the state it ends in. */
  async #import(id: string, task: ImportTask): Promise<Partial<Job>> {
    try {
      const drive = await this.#run(task, (doing, share) => this.#update(id, { doing, share }))
      this.#onStored(drive)
      return { state: 'done', doing: 'Done', share: 1, drive_id: drive }
    } catch (error) {
      const { status, sentence } = answerOf(error)
      if (status >= 500) process.stderr.write(`import failed: ${(error as Error)?.stack ?? error}\n`)
      return { state: 'failed', error: sentence, ...wantsSignals(error) }
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
    this.#jobs.set(id, { ...this.get(id), ...change })
  }
}

/** A capture that only lacks its signal table: the page shows what was seen, and a table to fill. */
function wantsSignals(error: unknown): Pick<Job, 'wants_signals'> {
  if (!(error instanceof NoSignalsError)) return {}
  const frames = error.frames.slice(0, MOST_FRAMES)
  return { wants_signals: { log: error.log, frames: [...frames], template: signalTemplate(frames) } }
}
