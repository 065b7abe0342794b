import { z } from 'zod'
import type { DriveFrame } from './drive.ts'
import { channelReportSchema, driveSchema, timelineSchema } from './review.ts'
import { vehicleSchema } from './vehicle.ts'

/**
 * What a drive's one Parquet file says beside its samples, as JSON under these keys of the file's key-value metadata.
 *
 *     columns     a list, an entry a column of the table: for every reader
 *     aftermile   what this program needs to have the very same drive again: `driveFileSchema`
 *
 * The samples stand in the table: a row a moment, `time` in s from the drive's start, a column a channel. null is no
 * sample; NaN is a sample that cannot be believed. Channels read together have their samples in the same rows.
 */
export const METADATA = { columns: 'columns', own: 'aftermile', table: 'table' } as const

/** Rises when a file written before can no longer be read as it is. */
export const DRIVE_FILE_FORM = 1

/** An entry of `columns`; what does not apply to a column is left out. */
export const columnNoteSchema = z.object({
  name: z.string(),
  unit: z.string(),
  about: z.string().optional().describe('plain words'),
  channel: z.string().optional(),
  file: z.string().optional(),
  from: z.string().optional().describe('what the column or signal was called in that file'),
  unit_in: z.string().nullable().optional(),
  conversion: z.string().optional(),
  sureness: z.number().optional().describe('0 … 1: how sure the naming is'),
})
export type ColumnNote = z.infer<typeof columnNoteSchema>

const busSchema = z.object({
  file: z.string(),
  bit_rate: z.number(),
  bit_rate_from: z.enum(['signal table', 'smallest that fits']),
  first_s: z.number(),
  load_percent: z.array(z.number()),
  worst_load_percent: z.number(),
  error_frames: z.number(),
  remote_frames: z.number(),
  nodes: z.array(
    z.object({
      name: z.string(),
      silent_span_s: z.tuple([z.number(), z.number()]).nullable(),
      silences: z.array(
        z.object({
          span_s: z.tuple([z.number(), z.number()]),
          at: z.enum(['inside', 'start', 'end']),
        }),
      ),
      period_s: z.number().nullable(),
      frames: z.number(),
      late: z.number(),
      missing: z.number(),
      first_s: z.number().optional(),
      off_at_s: z.array(z.number()).optional(),
    }),
  ),
  unexplained: z.array(
    z.object({
      identifier: z.string(),
      count: z.number(),
      rate_hz: z.number(),
      changing_bytes: z.array(z.number()),
    }),
  ),
})

const step = driveSchema.shape.files.element.shape.clock.shape.steps.element.extend({
  usual: z.literal(true).optional(),
})
const file = driveSchema.shape.files.element.extend({
  clock: driveSchema.shape.files.element.shape.clock.extend({ steps: z.array(step) }),
  repeats: z.array(z.object({ at_s: z.number(), length_s: z.number(), rows: z.number() })).optional(),
})

const frameSchema = z.object({
  files: z.array(file),
  startedAt: z.string().nullable(),
  durationS: z.number(),
  reports: z.array(channelReportSchema),
  segments: driveSchema.shape.segments,
  buses: z.array(busSchema),
  events: z.array(timelineSchema),
  assumptions: z.array(z.string()),
  doubts: z
    .array(
      z.object({ id: z.string(), file: z.string(), from: z.string(), factor: z.number(), why: z.string() }),
    )
    .optional(),
}) satisfies z.ZodType<unknown>

/** How one column of samples becomes its channel again. */
export const storedColumnSchema = z.object({
  column: z.string(),
  id: z.string(),
  unit: z.string(),
  base: z.int().describe('columns with the same number were read together: one time base'),
  labels: z.array(z.string()).nullable(),
  as: z.enum(['number', 'label']).describe('label: the column holds the words, not their places in labels'),
  file: z.string(),
  from: z.string(),
  step: z.number(),
  polarity: z.enum(['as-named', 'inverted']).nullable(),
  sign: z.enum(['proved', 'from-magnitude', 'unproved']).optional(),
  fresh: z.string().nullable().describe('the column that says which samples are new'),
  spare: z.boolean().describe('a second reading of a channel that another log holds better'),
})
export type StoredColumn = z.infer<typeof storedColumnSchema>

export const driveFileSchema = z.object({
  form: z.literal(DRIVE_FILE_FORM),
  program: z.string(),
  columns: z.array(storedColumnSchema),
  frame: frameSchema,
  vehicle: vehicleSchema.describe('without `record`: registration, number and customer stay at home'),
})
export type DriveFileHead = Omit<z.infer<typeof driveFileSchema>, 'frame'> & { readonly frame: DriveFrame }
