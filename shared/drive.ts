import type { ChannelId } from './channels.ts'
import type { Span } from './units.ts'
import type { Vehicle } from './vehicle.ts'

/**
 * One channel of a drive: its own samples, on its own time base.
 *
 *     timeS   0.00   0.10   0.20   0.31        seconds from the drive's start, never falling
 *     values  3.998  3.997  NaN    3.996       in `unit`; NaN = a sample was there but cannot be believed
 *     fresh   1      0      1      1           0 = the row only repeated the last value read
 *
 * An empty field is no sample. Channels read together share one `timeS` (and one `fresh`) array.
 */
export interface Channel {
  /** Catalogue id, or the column's own name. */
  readonly id: string
  /** The program's unit; '' where there is none or it is unknown. */
  readonly unit: string
  readonly timeS: Float64Array
  readonly values: Float64Array
  /** 1 where the sample is new, 0 where it is a held repeat; null where every sample is new. */
  readonly fresh: Uint8Array | null
  /** For text channels: `values` are indexes into this list. null for numbers. */
  readonly labels: readonly string[] | null
  /** Name of the file it came from. */
  readonly file: string
  /** What the column, signal or field was called there. */
  readonly from: string
  /** Smallest step between different values seen (quantisation), in `unit`; 0 where unknown. */
  readonly step: number
  /**
   * For switches: is 1 known to mean what the id says? 'as-named' or 'inverted' (already turned round) when
   * proved, null where nothing in the log or the name fixes it: such a switch accuses nobody.
   */
  readonly polarity: 'as-named' | 'inverted' | null
  /**
   * For `pack_current`: how its sign is known. `proved` by sag or power, `from-magnitude` (the log had none),
   * `unproved` (nothing tells; taken as logged). Absent on other channels.
   */
  readonly sign?: 'proved' | 'from-magnitude' | 'unproved'
}

export type SegmentType = 'parked' | 'starting' | 'driving' | 'charging' | 'unknown'

export interface Segment {
  readonly span_s: Span
  readonly type: SegmentType
  /** 1 for the first key-on of the log; 0 before it or where no key is logged. */
  readonly key_cycle: number
  readonly cut: 'none' | 'start' | 'end'
}

export interface ClockReport {
  readonly offset_s: number
  readonly drift_ppm: number
  readonly plus_minus_s: number | null
  readonly found_from: string
  /** Name of the log whose clock it is on, where that is not the drive's: its times mean nothing beside the others'. */
  readonly own?: string
  readonly steps: readonly {
    readonly at_s: number
    readonly step_s: number
    readonly why: string
    /** A counter that wrapped, or midnight: nothing to tell. */
    readonly usual?: true
  }[]
}

/** Rows that a log holds twice, and up to when it had come. */
export interface RepeatedBlock {
  readonly at_s: number
  readonly length_s: number
  readonly rows: number
}

/** Something left out of a file, counted: never silently dropped. */
export interface Skipped {
  readonly what: string
  readonly count: number
  /** Line, byte or time of the first one, in words. */
  readonly first: string
}

export interface DriveFile {
  readonly name: string
  readonly sha256: string
  readonly layout: string
  readonly rows: number
  readonly skipped: readonly Skipped[]
  readonly clock: ClockReport
  /** Blocks of rows that stood twice; the second copy is left out. */
  readonly repeats?: readonly RepeatedBlock[]
}

/** How a column or signal was understood: `channels[]` of the review. */
export interface ChannelReport {
  readonly id: string
  /** `file: column or signal`. */
  readonly from: string
  readonly unit_in: string | null
  readonly conversion: string
  readonly samples: number
  readonly rate_hz: number | null
  readonly gaps: readonly Span[]
  /** 0 … 1: how sure the naming is. */
  readonly sureness: number
  readonly why: string
}

/** A moment on the timeline: a state change, a fault bit, an error frame, a clock step. */
export interface TimelineEvent {
  readonly at_s: number
  readonly what: string
  readonly channel: string | null
}

/** What a bus log shows beside its signals; null for other layouts. */
export interface BusSummary {
  readonly file: string
  readonly bit_rate: number
  /** `signal table`, or the smallest usual rate that its busiest second fits into. */
  readonly bit_rate_from: 'signal table' | 'smallest that fits'
  /** Time of the first frame, s. */
  readonly first_s: number
  /** Percent of the bus's time per second, one value a second from the first frame; no stuff bits. */
  readonly load_percent: readonly number[]
  /** The busiest second with as many stuff bits as can be, percent. */
  readonly worst_load_percent: number
  readonly error_frames: number
  readonly remote_frames: number
  readonly nodes: readonly {
    readonly name: string
    /** Longest stretch in which none of its frames came, though its fastest frame was due. */
    readonly silent_span_s: Span | null
    /** All such stretches, longest first, at most 20; `start`: before its first frame, `end`: after its last. */
    readonly silences: readonly { readonly span_s: Span; readonly at: 'inside' | 'start' | 'end' }[]
    /** Of its fastest steady frame; null where none is steady. */
    readonly period_s: number | null
    readonly frames: number
    readonly late: number
    readonly missing: number
    /** Its first frame; and when frames came late or not at all, the first thousand. Absent in drives stored before. */
    readonly first_s?: number | undefined
    readonly off_at_s?: readonly number[] | undefined
  }[]
  /** Identifiers that no signal explains. */
  readonly unexplained: readonly {
    readonly identifier: string
    readonly count: number
    readonly rate_hz: number
    readonly changing_bytes: readonly number[]
  }[]
}

/** A channel whose stated unit its values contradict; it is not among the drive's channels. */
export interface UnitDoubt {
  /** The channel that it would be. */
  readonly id: string
  readonly file: string
  /** What the column is called there. */
  readonly from: string
  /** The values are so many times what the car can show. */
  readonly factor: number
  readonly why: string
}

/**
 * The channels of a drive by their id, or by their own name where the catalogue has none. Whoever asks for one by a name
 * of ours asks with a `ChannelId`: a slip does not compile; own names are asked for by `channelNamed`.
 */
export interface DriveChannels extends Omit<ReadonlyMap<string, Channel>, 'get' | 'has'> {
  get(id: ChannelId): Channel | undefined
  has(id: ChannelId): boolean
}

/** A channel by any name, as a person or a file gives it. */
export const channelNamed = (channels: DriveChannels, name: string): Channel | undefined =>
  channels.get(name as ChannelId)

/** One drive in normal form. Importers end here, everything else starts here. Never changed once built. */
export interface Drive {
  readonly files: readonly DriveFile[]
  /** ISO 8601, with zone where the log gave one; null where no log carries a date. */
  readonly startedAt: string | null
  readonly durationS: number
  /** By catalogue id, or by own name for what is not in the catalogue. */
  readonly channels: DriveChannels
  /** Second and third readings of a channel that another log holds better, same ids. */
  readonly spares: readonly Channel[]
  readonly reports: readonly ChannelReport[]
  readonly segments: readonly Segment[]
  readonly buses: readonly BusSummary[]
  readonly events: readonly TimelineEvent[]
  /** What was assumed or learned while building (sign, polarity, clock), in sentences. */
  readonly assumptions: readonly string[]
  /** Absent where no unit is in doubt. */
  readonly doubts?: readonly UnitDoubt[]
  /** The vehicle file that came inside a drive's one file; what a person gives beside the logs counts before it. */
  readonly vehicle?: Vehicle
}

/** A drive but for its samples. */
export type DriveFrame = Omit<Drive, 'channels' | 'spares' | 'vehicle'>
