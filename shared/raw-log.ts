import type { BusSummary, Channel, DriveFrame, RepeatedBlock, Skipped, TimelineEvent } from './drive.ts'
import type { Vehicle } from './vehicle.ts'

/**
 * What an importer gives: the log's own columns or signals, as numbers, in the log's own units and time.
 *
 *     name     "Cell 1 [V]"   as written, unit included
 *     unit     "V"            as written beside or in the name; null where none is
 *     timeS    0.00 0.10 …    own time: seconds as written, or since the file's first stamp for wall clocks
 *     values   3.998 3.997 …  no unit conversion yet; NaN where a sample could not be read (counted in `skipped`)
 *
 * An empty field gives no sample. Series read together share one `timeS`.
 */
export interface RawSeries {
  readonly name: string
  readonly unit: string | null
  /** A channel id that the signal table or a map fixes; null where the name must tell. */
  readonly channel: string | null
  /** Who fixed `channel`; the signal table where absent. */
  readonly fixedBy?: 'table' | 'map' | 'remembered'
  readonly timeS: Float64Array
  readonly values: Float64Array
  /** 0 where the row repeated its last value for the whole group read together; null: every sample is new. */
  readonly fresh: Uint8Array | null
  /** Text values: `values` are indexes into it. */
  readonly labels: readonly string[] | null
  /** Sender on a bus; null elsewhere. */
  readonly node: string | null
}

export interface RawLog {
  readonly name: string
  readonly sha256: string
  /** `wide CSV`, `long CSV`, `frame CSV`, `pcap`, `pcapng`, with `gzip` where packed. */
  readonly layout: string
  readonly rows: number
  readonly skipped: readonly Skipped[]
  readonly series: readonly RawSeries[]
  /** ISO 8601 of the first stamp, where the log carries dates. */
  readonly startedAt: string | null
  /** Same headers in the same layout give the same fingerprint: remembered corrections hang on it. */
  readonly fingerprint: string
  readonly bus: BusSummary | null
  /** Moments worth a mark: error frames, clock steps. In own time. */
  readonly events: readonly TimelineEvent[]
  /** Steps of the log's own clock, already taken out of `timeS`. */
  readonly clockSteps: readonly {
    readonly at_s: number
    readonly step_s: number
    readonly why: string
    /** A counter that wrapped, or midnight: nothing to tell. */
    readonly usual?: true
  }[]
  /** Blocks of rows that stood twice; the second copy is left out. In own time. */
  readonly repeats?: readonly RepeatedBlock[]
  /** What the importer had to assume, in sentences. */
  readonly notes?: readonly string[]
  /** A drive in normal form that this program wrote: alone, and with nothing said against it, it is taken as it was. */
  readonly finished?: FinishedDrive
}

/** A drive as it was when it was written into one file: nothing in it is named, cleaned or put on a clock again. */
export interface FinishedDrive {
  readonly frame: DriveFrame
  readonly channels: ReadonlyMap<string, Channel>
  readonly spares: readonly Channel[]
  readonly vehicle: Vehicle
}
