import { z } from 'zod'

const name = z.string().min(1).max(200)

/** ISO 8601, a day at least. */
export const momentSchema = z
  .string()
  .regex(/^\d{4}-\d{2}-\d{2}/, 'a date such as 2026-11-27 was expected')
  .refine((text) => Number.isFinite(Date.parse(text)), 'a date such as 2026-11-27 was expected')

/** A reading taken at the car, kept with its record or given with `--readings FILE`. */
export const readingSchema = z.object({
  kind: name,
  place: name,
  /** A meter that shows no value because nothing conducts reads open. */
  value: z.union([z.number(), z.literal('open')]),
  unit: z.string().max(20),
  date: momentSchema,
  by: name,
  finding: name.optional(),
})
export type Reading = z.infer<typeof readingSchema>

/** What a reading says beside a finding of the log. */
export const readingAnswerSchema = readingSchema.extend({
  finding: name.nullable().describe('id of the finding at the same place'),
  says: z.enum(['agrees', 'disagrees', 'noted']),
})
export type ReadingAnswer = z.infer<typeof readingAnswerSchema>
