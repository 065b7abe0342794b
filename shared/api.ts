import { z } from 'zod'
import { findingSchema, mapSchema, replaySchema, reviewSchema, spanSchema, VERDICT_STATES } from './review.ts'

/**
 * What the page and its server say to each other. One schema an answer; the page checks each with it, types are
 * inferred from it. Channel samples travel as bytes: the layout stands at `windowHeaderSchema`.
 */
const maybe = z.number().nullable()

export const errorSchema = z.object({ error: z.object({ code: z.string(), sentence: z.string() }) })

/** A stored drive in the list. */
export const driveSummarySchema = z.object({
  id: z.string(),
  title: z.string(),
  car: z.string().nullable(),
  added_at: z.string(),
  started_at: z.string().nullable(),
  duration_s: z.number(),
  distance_km: maybe,
  files: z.array(z.object({ name: z.string(), sha256: z.string() })),
  stop: z.int(),
  attention: z.int(),
  note: z.int(),
  not_assessed: z.int(),
  /** The verdict's state and sentence, as at the top of the drive; drives stored before schema 2 have none. */
  verdict: z.object({ state: z.enum(VERDICT_STATES), sentence: z.string() }).optional(),
  /** Headline of the worst finding above a note. */
  worst: z.string().nullable().optional(),
  /** Of start, pedal and pack, those of which nothing was assessed. */
  unseen: z.array(z.string()).optional(),
  kit: z.string().nullable().optional(),
  /** Resistance of the typical cell, mΩ: tells drives of like warmth and charge. */
  typical_mohm: maybe.optional(),
  /** Severity and id of every finding: "stop joint-resistance-high/joint-41". */
  found: z.array(z.string()).optional(),
  /** Where the stored drive is damaged or of a newer version: what it is, and what can still be done. */
  trouble: z.string().optional(),
})
export type DriveSummary = z.infer<typeof driveSummarySchema>
export const drivesSchema = z.array(driveSummarySchema)

/** How to read one column: the channel it is, and the unit it was logged in. `channel: null` = leave it unnamed. */
export const correctionSchema = z.object({
  channel: z.string().nullable(),
  unit: z.string().nullable(),
})
export type Correction = z.infer<typeof correctionSchema>
/** By column or signal name as written in the log. */
export const correctionsSchema = z.record(z.string(), correctionSchema)
export type Corrections = z.infer<typeof correctionsSchema>

export const channelInfoSchema = z.object({
  id: z.string(),
  label: z.string(),
  unit: z.string(),
  kind: z.enum(['number', 'switch', 'code']),
  file: z.string(),
  from: z.string(),
  samples: z.int(),
  labels: z.array(z.string()).nullable(),
})
export type ChannelInfo = z.infer<typeof channelInfoSchema>

/** Everything the page needs of one drive, but for samples. `vehicle` is the vehicle file as given. */
export const driveAnswerSchema = z.object({
  summary: driveSummarySchema,
  review: reviewSchema,
  channels: z.array(channelInfoSchema),
  vehicle: z.unknown(),
  corrections: correctionsSchema,
  offsets: z.array(z.number().nullable()),
  notes: z.string(),
  version: z.string(),
  can_replay: z.boolean(),
})
export type DriveAnswer = z.infer<typeof driveAnswerSchema>

/**
 * Header of a window of samples. The whole answer, little-endian:
 *
 *     u32            length of the header's JSON text in bytes
 *     JSON           this header, padded with blanks so that what follows starts at a multiple of 8
 *     per channel    Float64 × points  seconds from the drive's start
 *                    Float32 × points  values (NaN = a break in the line), padded to a multiple of 8 bytes
 *
 * `thinned`: each bucket of samples gives two points, its lowest and its highest value; nothing between them is lost.
 */
export const windowHeaderSchema = z.object({
  span_s: spanSchema,
  channels: z.array(z.object({ id: z.string(), points: z.int(), thinned: z.boolean() })),
})
export type WindowHeader = z.infer<typeof windowHeaderSchema>

/** All channels at one moment: the last value before it; null where there is none or it is too old. */
export const momentSchema = z.object({ at_s: z.number(), values: z.record(z.string(), maybe) })
export type Moment = z.infer<typeof momentSchema>

/** Two channels against each other, counted in a fine grid so that no outlier is lost. */
export const pairsSchema = z.object({
  x: z.array(z.number()),
  y: z.array(z.number()),
  count: z.array(z.int()),
  /** Mean time of the samples in the cell, to tell where in the drive they lie. */
  at_s: z.array(z.number()),
  samples: z.int(),
})
export type Pairs = z.infer<typeof pairsSchema>

/** Where the peers of a channel lie against another: the middle 95 % of their samples, by bands of x. */
export const peerBandSchema = z.object({
  x: z.array(z.number()),
  low: z.array(z.number()),
  high: z.array(z.number()),
  peers: z.int(),
})
export type PeerBand = z.infer<typeof peerBandSchema>

/** Figures of one channel over a stretch, from every sample. */
export const measureSchema = z.object({
  id: z.string(),
  samples: z.int(),
  mean: maybe,
  min: maybe,
  max: maybe,
  /** Unit of the channel times seconds. */
  integral: maybe,
  /** Unit of the channel per second: least-squares line. */
  slope_per_s: maybe,
})
export const measuresSchema = z.array(measureSchema)
export type Measure = z.infer<typeof measureSchema>

export const importRequestSchema = z.object({
  files: z
    .array(
      z.object({
        name: z.string().min(1).max(200),
        role: z.enum(['log', 'signals', 'vehicle', 'map']),
        bytes: z.int().nonnegative(),
      }),
    )
    .min(1)
    .max(40),
})
export type ImportRequest = z.infer<typeof importRequestSchema>

/** What a capture shows before anybody says what its bits mean. */
export const frameSeenSchema = z.object({
  /** As people write it: `0x18FF50E5`. */
  identifier: z.string(),
  extended: z.boolean(),
  count: z.int(),
  /** Frames a second between its first and last; null where it came once. */
  rate_hz: z.number().nullable(),
  /** Longest payload, bytes. */
  length: z.int(),
  /** Bytes, from 0, that are not the same in all its frames. */
  changing_bytes: z.array(z.int()),
})
export type FrameSeen = z.infer<typeof frameSeenSchema>

/** A row that is proposed for a signal table, with what it would have shown; nothing is used until it is accepted. */
export const proposedRowSchema = z.object({
  identifier: z.string(),
  extended: z.boolean(),
  name: z.string(),
  channel: z.string().optional(),
  start_bit: z.int(),
  length: z.int(),
  byte_order: z.enum(['little', 'big']),
  signed: z.boolean(),
  factor: z.number(),
  offset: z.number(),
  unit: z.string(),
  selector_start_bit: z.int().optional(),
  selector_length: z.int().optional(),
  selector_value: z.int().optional(),
  sureness: z.number(),
  why: z.string(),
  otherwise: z.string().nullable(),
  /** Raw values at even moments over the capture. */
  preview: z.array(z.number().nullable()),
})
export type ProposedRow = z.infer<typeof proposedRowSchema>

/** Progress of an import or a new review of a stored drive. */
export const jobSchema = z.object({
  id: z.string(),
  state: z.enum(['waiting-for-files', 'working', 'done', 'failed']),
  doing: z.string(),
  share: z.number().min(0).max(1),
  drive_id: z.string().nullable(),
  error: z.string().nullable(),
  /** A capture without a signal table: what was seen on its bus, most frequent first, and a table to fill. */
  wants_signals: z
    .object({
      log: z.string(),
      frames: z.array(frameSeenSchema),
      template: z.unknown(),
      rows: z.array(proposedRowSchema),
    })
    .optional(),
})
export type Job = z.infer<typeof jobSchema>
/** What a capture without a signal table wants. */
export type WantedSignals = NonNullable<Job['wants_signals']>

export const reviseRequestSchema = z.object({
  corrections: correctionsSchema.optional(),
  remember: z.boolean().optional(),
  vehicle: z.unknown().optional(),
  /** Seconds to add to the second, third … log's own time; null where the data decide. */
  offsets: z.array(z.number().nullable()).max(40).optional(),
})
export type ReviseRequest = z.infer<typeof reviseRequestSchema>

/** Another regeneration map, to replay a stored drive with. */
export const replayRequestSchema = z.object({ map: mapSchema })

/** The drive as it was, and with the map asked for: the driver presses the same, or slows the same. */
export const replayAnswerSchema = z.object({
  before: replaySchema.nullable(),
  replays: z.array(replaySchema),
  /** The map asked for as a line above its fades, [bar, N·m in all], up to the highest press that was seen. */
  line: z.array(z.tuple([z.number(), z.number()])),
  /** The same presses with regeneration gone: deceleration of friction alone, m/s² per bar. */
  friction_alone_per_bar: maybe,
  friction_alone_per_bar_plus_minus: maybe,
  cautions: z.array(z.string()),
})
export type ReplayAnswer = z.infer<typeof replayAnswerSchema>

/** What changed from another drive (before) to this one (after). */
export const comparisonSchema = z.object({
  figures: z.array(
    z.object({
      what: z.string(),
      unit: z.string(),
      before: maybe,
      after: maybe,
      change: maybe,
      plus_minus: maybe,
      /** The change is larger than both intervals together; null where an interval is missing. */
      certain: z.boolean().nullable(),
    }),
  ),
  /** Stops at the same pressures: regeneration and deceleration. */
  same_pressure: z.array(
    z.object({
      bar: z.number(),
      before_nm: z.number(),
      after_nm: z.number(),
      before_ms2: maybe,
      after_ms2: maybe,
    }),
  ),
  /** What cannot be compared, or not fairly, in sentences. */
  notes: z.array(z.string()),
  gone: z.array(findingSchema),
  came: z.array(findingSchema),
  stayed: z.array(z.object({ before: findingSchema, after: findingSchema })),
})
export type Comparison = z.infer<typeof comparisonSchema>

export const notesRequestSchema = z.object({
  notes: z.string().max(20_000),
  title: z.string().min(1).max(200).optional(),
})

export const sampleSchema = z.object({ id: z.string(), title: z.string(), about: z.string() })
export const samplesSchema = z.array(sampleSchema)
export type Sample = z.infer<typeof sampleSchema>

/** A table: plain columns. Missing numbers are null. */
export const tableSchema = z.object({
  name: z.string(),
  title: z.string(),
  columns: z.array(
    z.object({
      key: z.string(),
      label: z.string(),
      unit: z.string(),
      values: z.array(z.union([z.number(), z.string(), z.null()])),
    }),
  ),
  groups: z.array(z.string()),
  /** Rows of mean, spread, lowest and highest of each number column; per group where grouped. */
  summary: z.array(
    z.object({
      group: z.string(),
      rows: z.int(),
      figures: z.record(z.string(), z.object({ mean: maybe, spread: maybe, min: maybe, max: maybe })),
    }),
  ),
})
export type Table = z.infer<typeof tableSchema>
