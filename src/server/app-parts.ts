import type { Place } from '../library/place.ts'
import type { RunImport } from './jobs.ts'

/** What a server is made of. */
export interface AppParts {
  readonly place: Place
  /** Folder of the built page; null serves no page. */
  readonly webDir: string | null
  /** Folder of the sample drives; null offers none. */
  readonly samplesDir: string | null
  readonly runImport: RunImport
  /** Shown in the page and the report. */
  readonly version: string
  /** Bytes that one import may bring, all files together. */
  readonly uploadLimit?: number
}
