import type { z } from 'zod'
import {
  comparisonSchema,
  type DriveAnswer,
  driveAnswerSchema,
  drivesSchema,
  errorSchema,
  type Job,
  jobSchema,
  measuresSchema,
  momentSchema,
  type PeerBand,
  pairsSchema,
  peerBandSchema,
  type ReplayAnswer,
  type ReviseRequest,
  replayAnswerSchema,
  samplesSchema,
  tableSchema,
  type WantedSignals,
  windowHeaderSchema,
} from '../shared/api.ts'
import { type CarAnswer, carAnswerSchema } from '../shared/car-answer.ts'
import type { CarNote, Deed, TriedMap } from '../shared/car-record.ts'
import type { Reading } from '../shared/reading.ts'
import type { RegenMap } from '../shared/review.ts'
import type { Span } from '../shared/units.ts'

/** The only file that speaks to the server. Every answer is checked with the schema both sides share. */
async function ask(path: string, options: RequestInit = {}): Promise<Response> {
  const response = await fetch(`/api/${path}`, options)
  if (response.ok) return response
  const told = errorSchema.safeParse(await response.json().catch(() => null))
  throw new Error(
    told.success ? told.data.error.sentence : `The server answered with status ${response.status}.`,
  )
}

async function get<T>(schema: z.ZodType<T>, path: string, options: RequestInit = {}): Promise<T> {
  const read = schema.safeParse(await (await ask(path, options)).json())
  if (read.success) return read.data
  const [first] = read.error.issues
  throw new Error(
    `The server’s answer is not as this page expects it (${first?.path.join('.') ?? path}): page and program are of two versions. Start the program anew; if that does not help, read the logs again.`,
  )
}

const sending = (method: string, body: unknown): RequestInit => ({
  method,
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
})

const query = (values: Readonly<Record<string, string | number | readonly string[]>>): string => {
  const all = new URLSearchParams()
  for (const [key, value] of Object.entries(values))
    for (const each of typeof value === 'object' ? value : [value]) all.append(key, String(each))
  return all.toString()
}

export const listDrives = () => get(drivesSchema, 'drives')
/** What a stored drive is looked for by; empty holds for all. Days are YYYY-MM-DD. */
export interface DriveWanted {
  readonly text: string
  readonly verdict: string
  readonly from: string
  readonly to: string
}
export const findDrives = ({ text, verdict, from, to }: DriveWanted) =>
  get(drivesSchema, `drives?${query({ text, verdict, from, to })}`)
export const listSamples = () => get(samplesSchema, 'samples')
export const openDrive = (id: string): Promise<DriveAnswer> => get(driveAnswerSchema, `drives/${id}`)
export const openSample = (id: string) => get(jobSchema, `samples/${id}/open`, { method: 'POST' })
export const removeDrive = (id: string) => ask(`drives/${id}`, { method: 'DELETE' })
export const momentOf = (id: string, channel: readonly string[], at: number) =>
  get(momentSchema, `drives/${id}/moment?${query({ at, channel })}`)

export const measure = (id: string, channel: readonly string[], [from, to]: Span) =>
  get(measuresSchema, `drives/${id}/measure?${query({ channel, from, to })}`)

export const pairs = (id: string, x: string, y: string, [from, to]: Span, minus = '') =>
  get(pairsSchema, `drives/${id}/pairs?${query({ x, y, from, to, minus })}`)

export const peers = (id: string, x: string, y: string, [from, to]: Span): Promise<PeerBand> =>
  get(peerBandSchema, `drives/${id}/peers?${query({ x, y, from, to })}`)

export const table = (id: string, name: string, group: string, sort: string, falling: boolean) =>
  get(
    tableSchema,
    `drives/${id}/tables/${name}?${query({ group, ...(sort ? { sort, falling: falling ? 1 : 0 } : {}) })}`,
  )

export const saveNotes = (id: string, notes: string, title?: string) =>
  ask(`drives/${id}/notes`, sending('PUT', title === undefined ? { notes } : { notes, title }))

export const revise = (id: string, wish: ReviseRequest) =>
  get(jobSchema, `drives/${id}/revise`, sending('POST', wish))

export const compare = (id: string, before: string) => get(comparisonSchema, `drives/${id}/compare/${before}`)

export const replay = (id: string, map: RegenMap): Promise<ReplayAnswer> =>
  get(replayAnswerSchema, `drives/${id}/replay`, sending('POST', { map }))

const ofCar = (car: string, what = ''): string => `cars/${encodeURIComponent(car)}${what}`
export const openCar = (car: string): Promise<CarAnswer> => get(carAnswerSchema, ofCar(car))
export const writeDeed = (car: string, finding: string, deed: Deed): Promise<CarAnswer> =>
  get(carAnswerSchema, ofCar(car, '/deeds'), sending('POST', { finding, ...deed }))
export const writeReading = (car: string, reading: Reading): Promise<CarAnswer> =>
  get(carAnswerSchema, ofCar(car, '/readings'), sending('POST', reading))
export const writeMap = (car: string, tried: TriedMap): Promise<CarAnswer> =>
  get(carAnswerSchema, ofCar(car, '/maps'), sending('POST', tried))
export const writeNote = (car: string, note: CarNote): Promise<CarAnswer> =>
  get(carAnswerSchema, ofCar(car, '/notes'), sending('POST', note))
export const attachFile = (car: string, file: File, by: string): Promise<CarAnswer> =>
  get(carAnswerSchema, ofCar(car, `/files?${query({ name: file.name, by })}`), { method: 'POST', body: file })

export const carTable = (car: string, name: string) => get(tableSchema, ofCar(car, `/tables/${name}`))

export interface FileToImport {
  readonly file: File
  readonly role: 'log' | 'signals' | 'vehicle' | 'map'
  /** A drive in one file, with its vehicle file inside. */
  readonly whole?: boolean
}

/**
 * Sends files one after the other and starts the import. `progress` gets the share sent, 0 … 1.
 * @param stop aborted: what was sent is removed again, and nothing is imported
 */
export async function importFiles(
  files: readonly FileToImport[],
  progress: (share: number) => void,
  stop: AbortSignal,
): Promise<Job> {
  const announced = files.map(({ file, role }) => ({ name: file.name, role, bytes: file.size }))
  const job = await get(jobSchema, 'imports', sending('POST', { files: announced }))
  try {
    for (const [at, { file }] of files.entries()) {
      progress(at / files.length)
      await ask(`imports/${job.id}/files/${at}`, { method: 'PUT', body: file, signal: stop })
    }
    return await get(jobSchema, `imports/${job.id}/start`, { method: 'POST', signal: stop })
  } catch (error) {
    if (!stop.aborted) throw error
    return cancelImport(job.id)
  }
}

export const cancelImport = (id: string): Promise<Job> =>
  get(jobSchema, `imports/${id}`, { method: 'DELETE' })

/** A capture that no signal table came with: what was seen on its bus. */
export class NoSignals extends Error {
  readonly wanted: WantedSignals

  constructor(sentence: string, wanted: WantedSignals) {
    super(sentence)
    this.wanted = wanted
  }
}

/**
 * Listens until the job is done (server-sent events); gives the drive's id, null where it was cancelled.
 * @throws Error with the server's sentence where it failed
 */
export async function finish(job: Job, progress: (job: Job) => void): Promise<string | null> {
  const last = ended(job) ? job : await heard(job.id, progress)
  if (last.doing === 'Cancelled') return null
  if (last.wants_signals) throw new NoSignals(last.error ?? '', last.wants_signals)
  if (last.state === 'failed' || last.drive_id === null) throw new Error(last.error ?? 'The import failed.')
  return last.drive_id
}

const ended = ({ state }: Job): boolean => state === 'done' || state === 'failed'

function heard(id: string, progress: (job: Job) => void): Promise<Job> {
  return new Promise((resolve, reject) => {
    const events = new EventSource(`/api/imports/${id}/events`)
    events.onmessage = ({ data }) => {
      const job = jobSchema.parse(JSON.parse(data as string))
      progress(job)
      if (!ended(job)) return
      events.close()
      resolve(job)
    }
    events.onerror = () => {
      // The browser asks again by itself, but where the server is gone or knows no such import.
      if (events.readyState !== EventSource.CLOSED) return
      reject(new Error('The server no longer answers about this import. Is the program still running?'))
    }
  })
}

/** One channel's points in a window; NaN in `values` breaks the line. */
export interface WindowPoints {
  readonly timeS: Float64Array
  readonly values: Float32Array
  readonly thinned: boolean
}

/** Samples of a window; the bytes' layout stands at `windowHeaderSchema`. */
export async function windowOf(
  id: string,
  channel: readonly string[],
  [from, to]: Span,
  buckets: number,
  signal?: AbortSignal,
): Promise<Map<string, WindowPoints>> {
  const path = `drives/${id}/window?${query({ from, to, buckets, channel })}`
  return decodeWindow(await (await ask(path, signal ? { signal } : {})).arrayBuffer())
}

export function decodeWindow(bytes: ArrayBuffer): Map<string, WindowPoints> {
  const length = new DataView(bytes).getUint32(0, true)
  const text = new TextDecoder().decode(new Uint8Array(bytes, 4, length))
  const header = windowHeaderSchema.parse(JSON.parse(text))
  const out = new Map<string, WindowPoints>()
  let at = 4 + length
  for (const { id, points, thinned } of header.channels) {
    const timeS = new Float64Array(bytes, at, points)
    const values = new Float32Array(bytes, at + 8 * points, points)
    out.set(id, { timeS, values, thinned })
    at += 8 * points + 8 * Math.ceil(points / 2)
  }
  return out
}
