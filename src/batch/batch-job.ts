import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { VERSION } from '../../shared/version.ts'
import { LogError } from '../errors.ts'

/** One drive to review; plain data, so that it can be handed to a thread, or to another machine. */
export interface BatchJob {
  /** Of the logs' hashes alone: the same logs are the same drive wherever they lie. */
  readonly key: string
  /** Of vehicle file, signal table and map. */
  readonly asked: string
  readonly program: string
  /** Where its logs lie, as people know it. */
  readonly name: string
  readonly why: string
  readonly logs: readonly { readonly path: string; readonly name: string; readonly sha256: string }[]
  readonly vehicle?: string
  readonly signals?: string
  readonly map?: string
}

/** `d` and 16 digits: never taken for a number by what reads the data set. */
export function driveKey(hashes: readonly string[]): string {
  return `d${createHash('sha256')
    .update([...hashes].sort().join('\n'))
    .digest('hex')
    .slice(0, 16)}`
}

/**
 * What a review depends on beside its logs.
 * @param asked hashes made before, by the files' names
 * @throws LogError where a file cannot be read
 */
export function askedHash(
  job: Pick<BatchJob, 'vehicle' | 'signals' | 'map'>,
  asked: Map<string, string>,
): string {
  const files = [job.vehicle, job.signals, job.map]
  const name = files.join('\n')
  let hash = asked.get(name)
  if (hash === undefined) {
    const all = createHash('sha256')
    for (const file of files) all.update(file === undefined ? '-' : bytesOf(file)).update('\n')
    asked.set(name, (hash = all.digest('hex').slice(0, 16)))
  }
  return hash
}

function bytesOf(path: string): Uint8Array {
  try {
    return createHash('sha256').update(readFileSync(path)).digest()
  } catch (error) {
    throw new LogError('unreadable', `${path}: cannot be read (${(error as NodeJS.ErrnoException).code}).`)
  }
}

/** The job's name in a queue: the same work has the same one. */
export const jobId = ({ key, asked, program }: BatchJob): string =>
  `${key}-${asked}-${program.replace(/[^\w.-]/g, '_')}`

export const PROGRAM = VERSION
