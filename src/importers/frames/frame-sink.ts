import type { Skipped } from '../../../shared/drive.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import type { ClockStep } from '../time/clock-jumps.ts'
import { StraightClock } from '../time/clock-steps.ts'

/** Set in `flags` for an FD frame, and where its data came at the faster rate. Source: Linux uapi can.h. */
export const FD_FRAME = 4
export const FD_SWITCHED = 1

const SIZE = 1024

/**
 * Up to 1024 data frames in the order of the log: columns, so that a sink works through them in one loop.
 *
 *     ownS    0.000304  0.000383  …   own time; a sink sees it with the clock's steps taken out
 *     key     0x30E     0x304     …   identifier; bit 31 set for extended ones
 *     flags   0         0         …   FD's; 0 for classic frames
 *     at      40        72        …   where the payload begins in `view`
 *     length  8         8         …   payload bytes
 */
export class FrameBatch {
  count = 0
  view: DataView = new DataView(new ArrayBuffer(0))
  readonly ownS = new Float64Array(SIZE)
  readonly key = new Int32Array(SIZE)
  readonly flags = new Uint8Array(SIZE)
  readonly at = new Int32Array(SIZE)
  readonly length = new Uint8Array(SIZE)
}

/** What a walk over a frame log hands its frames to. Own time in seconds. */
export interface FrameSink {
  /** Data frames; the batch and its view are used again after. */
  batch(frames: FrameBatch): void
  remote(ownS: number, key: number, length: number): void
  /** A controller's error report: its class bits and payload. */
  error(ownS: number, classes: number, bytes: DataView, at: number, length: number): void
}

/** Gathers a walk's frames into batches and takes the steps out of the log's clock. */
export class FrameOutlet {
  readonly clock: StraightClock
  /** Open to importers that fill it in a loop of their own; `flush` when full. */
  readonly batch = new FrameBatch()
  readonly #sink: FrameSink
  #frames = 0

  /** @param local the log's stamps are a wall clock without a zone */
  constructor(sink: FrameSink, local = false) {
    this.#sink = sink
    this.clock = new StraightClock(local)
  }

  /** Data, remote and error frames handed on. */
  get frames(): number {
    return this.#frames
  }

  /** Payloads that follow lie in `view`; what is gathered goes out first. */
  useView(view: DataView): void {
    this.flush()
    this.batch.view = view
  }

  data(rawS: number, key: number, flags: number, at: number, length: number): void {
    const batch = this.batch
    const { count } = batch
    batch.ownS[count] = rawS
    batch.key[count] = key
    batch.flags[count] = flags
    batch.at[count] = at
    batch.length[count] = length
    batch.count = count + 1
    if (count + 1 === SIZE) this.flush()
  }

  remote(rawS: number, key: number, length: number): void {
    this.flush()
    this.#frames++
    this.#sink.remote(this.clock.next(rawS), key, length)
  }

  error(rawS: number, classes: number, bytes: DataView, at: number, length: number): void {
    this.flush()
    this.#frames++
    this.#sink.error(this.clock.next(rawS), classes, bytes, at, length)
  }

  flush(): void {
    if (this.batch.count === 0) return
    this.#frames += this.batch.count
    this.clock.straighten(this.batch.ownS, this.batch.count)
    this.#sink.batch(this.batch)
    this.batch.count = 0
  }
}

/** What is known once the end is reached. */
export interface WalkReport {
  /** ISO 8601 of own time 0; null where the log carries no date. */
  readonly startedAt: string | null
  readonly frames: number
  readonly skipped: readonly Skipped[]
  readonly clockSteps: readonly ClockStep[]
  /** What was assumed about the time, in a sentence. */
  readonly assumed: string | null
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
