import type { Skipped } from '../../shared/drive.ts'
import type { LogSource } from '../bytes/file-source.ts'

/** What a walk over a frame log reports, frame by frame, in the order of the log. Own time in seconds. */
export interface FrameSink {
  /** A data frame: `length` payload bytes from `at`. `flags` are FD's (0 for classic frames). */
  data(ownS: number, key: number, flags: number, bytes: Uint8Array, at: number, length: number): void
  remote(ownS: number, key: number, length: number): void
  /** A controller's error report: its class bits and payload. */
  error(ownS: number, classes: number, bytes: Uint8Array, at: number, length: number): void
}

/** Set in `flags` for an FD frame, and where its data came at the faster rate. Source: Linux uapi can.h. */
export const FD_FRAME = 4
export const FD_SWITCHED = 1

/** What is known once the end is reached. */
export interface WalkReport {
  /** Milliseconds since 1970 of own time 0; null where the log carries no date. */
  readonly startedAtMs: number | null
  /** Data, remote and error frames. */
  readonly frames: number
  readonly skipped: readonly Skipped[]
}

/** Walks a frame log from its start; called twice: count, then fill. Both walks give the same frames. */
export type FrameWalk = (source: LogSource, sink: FrameSink) => Promise<WalkReport>

/** Counts what is left out, by reason, with the place of the first. */
export class SkipCount {
  readonly #found = new Map<string, { count: number; first: string }>()

  add(what: string, first: string, count = 1): void {
    const known = this.#found.get(what)
    if (known) known.count += count
    else this.#found.set(what, { count, first })
  }

  list(): Skipped[] {
    return [...this.#found].map(([what, { count, first }]) => ({ what, count, first }))
  }
}
