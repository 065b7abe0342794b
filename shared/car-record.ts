import { z } from 'zod'
import { KIND_NAMES } from './kinds.ts'
import { momentSchema, readingSchema } from './reading.ts'
import { mapSchema, subjectSchema } from './review.ts'

/**
 * What a workshop keeps of one car beside its drives: what became of each finding, readings taken at the car, files,
 * maps tried, the vehicle file's history, notes. Findings themselves stand in the drives' reviews and are never copied
 * over or changed here: what is accepted or mended takes nothing from a verdict.
 */
export const RECORD_VERSION = 1

const words = z.string().max(20_000)
const name = z.string().min(1).max(200)
export const DEED_STATES = ['open', 'looked-at', 'mended', 'accepted'] as const
export type DeedState = (typeof DEED_STATES)[number]
export const DEED_WORDS: Readonly<Record<DeedState, string>> = {
  open: 'open',
  'looked-at': 'looked at',
  mended: 'mended',
  accepted: 'accepted',
}

const figureSchema = z.object({ value: z.number(), unit: z.string().max(20) })

/** What somebody did about a finding. */
export const deedSchema = z
  .object({
    state: z.enum(DEED_STATES),
    at: momentSchema,
    by: name,
    /** Why it is accepted; what was done. */
    reason: words,
    /** Measured at the car before and after mending. */
    before: figureSchema.nullable(),
    after: figureSchema.nullable(),
    /** The stored drive in which the finding was read. */
    drive: z.string().nullable(),
  })
  .refine((deed) => deed.state !== 'accepted' || deed.reason.trim() !== '', {
    message: 'a finding is accepted with a reason',
    path: ['reason'],
  })
export type Deed = z.infer<typeof deedSchema>

export const workedFindingSchema = z.object({
  /** As in the review: "joint-resistance-high/joint-41". */
  id: name,
  kind: z.enum(KIND_NAMES),
  subject: subjectSchema,
  headline: words,
  /** The oldest first; the last one counts. */
  deeds: z.array(deedSchema).min(1),
})

export const attachedSchema = z.object({
  /** Number of the file in the car's folder. */
  number: z.int().positive(),
  name,
  bytes: z.int().nonnegative(),
  sha256: z.string(),
  at: momentSchema,
  by: name,
  about: words,
  finding: name.optional(),
})
export type Attached = z.infer<typeof attachedSchema>

export const triedMapSchema = z.object({
  at: momentSchema,
  by: name,
  map: mapSchema,
  /** How it felt, what the drive showed. */
  about: words,
  drive: z.string().nullable(),
})
export type TriedMap = z.infer<typeof triedMapSchema>

export const vehicleStepSchema = z.object({
  at: momentSchema,
  drive: z.string().nullable(),
  vehicle: z.record(z.string(), z.unknown()),
})

export const noteSchema = z.object({ at: momentSchema, by: name, text: words.min(1) })
export type CarNote = z.infer<typeof noteSchema>

export const carRecordSchema = z.object({
  version: z.literal(RECORD_VERSION),
  car: name,
  findings: z.array(workedFindingSchema),
  readings: z.array(readingSchema),
  files: z.array(attachedSchema),
  maps: z.array(triedMapSchema),
  /** The vehicle file as it was given, each time it changed; the oldest first. */
  vehicles: z.array(vehicleStepSchema),
  notes: z.array(noteSchema),
})
export type CarRecord = z.infer<typeof carRecordSchema>

export const emptyRecord = (car: string): CarRecord => ({
  version: RECORD_VERSION,
  car,
  findings: [],
  readings: [],
  files: [],
  maps: [],
  vehicles: [],
  notes: [],
})
