import { z } from 'zod'
import { driveSummarySchema } from './api.ts'
import { carRecordSchema, DEED_STATES, deedSchema } from './car-record.ts'
import { mapOutcomeSchema } from './map-outcome.ts'
import { severitySchema, verdictSchema } from './review.ts'

/** What the page and other programs read of a car (`aftermile car NAME --json`). */
const maybe = z.number().nullable()

export const retestSchema = z.object({
  drive: z.string(),
  title: z.string(),
  state: z.enum(['not-seen', 'smaller', 'same', 'larger', 'not-looked-for']),
  sentence: z.string(),
  before: maybe,
  after: maybe,
  change: maybe,
  plus_minus: maybe,
  unit: z.string(),
  smallest_seen: maybe,
  chance: maybe,
})

export const carFindingSchema = z.object({
  id: z.string(),
  state: z.enum(DEED_STATES).describe('what became of it; it changes nothing of what the drives say'),
  stands: z.boolean().describe('the car’s last drive has it'),
  severity: severitySchema,
  headline: z.string(),
  next_step: z.string(),
  cautions: z.array(z.string()),
  seen_in: z.array(z.string()).describe('ids of the drives that have it, the oldest first'),
  deeds: z.array(deedSchema),
  retests: z.array(retestSchema),
})
export type CarFinding = z.infer<typeof carFindingSchema>

export const carAnswerSchema = z.object({
  car: z.string(),
  kit: z.string().nullable(),
  /** Of the last drive, as that drive says it. */
  verdict: verdictSchema.extend({ drive: z.string(), title: z.string() }).nullable(),
  drives: z.array(driveSummarySchema).describe('the oldest first'),
  findings: z.array(carFindingSchema),
  maps: z
    .array(mapOutcomeSchema)
    .describe('maps that were set, the oldest first, and what the next drive showed'),
  record: carRecordSchema,
  troubles: z.array(z.string()),
})
export type CarAnswer = z.infer<typeof carAnswerSchema>

/** One thing to log or do, and what it would answer. */
export const wishSchema = z.object({
  what: z.string(),
  /** Channels that it brings; none where it is a thing to drive or do. */
  channels: z.array(z.string()),
  how: z
    .array(z.string())
    .describe('what the drives asked for, word for word: rates and lengths stand in it'),
  closes: z.array(z.string()).describe('questions that it would bring nearer to an answer'),
})

const paperHead = {
  car: z.string(),
  kit: z.string().nullable(),
  record: z.object({
    registration: z.string().nullable(),
    vin: z.string().nullable(),
    customer: z.string().nullable(),
    odometer_km: maybe,
  }),
  drives: z.int(),
  first: z.string().nullable(),
  last: z.string().nullable(),
  km: maybe,
  verdict: verdictSchema.nullable().describe('of the last drive, as that drive says it'),
  notice: z.string(),
}

export const handoverSchema = z.object({
  ...paperHead,
  findings: z.array(carFindingSchema),
  readings: carRecordSchema.shape.readings,
  files: carRecordSchema.shape.files,
  maps: carRecordSchema.shape.maps,
  notes: carRecordSchema.shape.notes,
  not_assessed: z.array(z.string()).describe('questions that no drive of the car answered'),
  sources: z.array(z.object({ title: z.string(), name: z.string(), sha256: z.string() })),
})
export const customerSchema = z.object({
  ...paperHead,
  stands: z.array(z.string()).describe('what the last drive shows above a note, in plain words'),
  mended: z.array(z.string()),
  accepted: z.array(z.string()),
  unseen: z.array(z.string()).describe('parts of the car of which nothing could be told'),
  open: z.int().describe('questions that no drive of the car answers'),
})
export const wishesSchema = z.object({ ...paperHead, wishes: z.array(wishSchema), open: z.int() })
export type Handover = z.infer<typeof handoverSchema>
export type Customer = z.infer<typeof customerSchema>
export type Wishes = z.infer<typeof wishesSchema>

export const PAPERS = ['handover', 'customer', 'wishes'] as const
export type PaperName = (typeof PAPERS)[number]
export const PAPER_WORDS: Readonly<Record<PaperName, string>> = {
  handover: 'Hand-over sheet',
  customer: 'Summary for the customer',
  wishes: 'What to log next',
}
