import { z } from 'zod'
import { mapSchema } from './review.ts'

const maybe = z.number().nullable()

export const MAP_VERDICTS = ['as-asked', 'less', 'more', 'not-seen'] as const
export type MapVerdict = (typeof MAP_VERDICTS)[number]

/** What the next stored drive says of a map that was set: asked, predicted and measured at its breakpoints. */
export const mapOutcomeSchema = z.object({
  map: mapSchema,
  at: z.string(),
  by: z.string(),
  /** The drive that the map was made from and the first one after it with regeneration; null where there is none yet. */
  before: z.string().nullable(),
  drive: z.string().nullable(),
  title: z.string().nullable(),
  points: z.array(
    z.object({
      bar: z.number(),
      before_nm: maybe.describe('as the drive before showed it'),
      asked_nm: z.number().describe('slowing torque in all above the fades, lift-off as driven before'),
      predicted_nm: z.number(),
      predicted_nm_plus_minus: maybe,
      measured_nm: maybe,
      measured_nm_plus_minus: maybe,
      verdict: z.enum(MAP_VERDICTS),
      why: z.string(),
    }),
  ),
  figures: z.array(
    z.object({
      what: z.string(),
      unit: z.string(),
      before: maybe,
      predicted: maybe,
      predicted_plus_minus: maybe,
      measured: maybe,
      measured_plus_minus: maybe,
      within: z.boolean().nullable().describe('predicted and measured agree within both intervals'),
    }),
  ),
  sentence: z.string(),
})
export type MapOutcome = z.infer<typeof mapOutcomeSchema>

export const VERDICT_WORDS: Readonly<Record<MapVerdict, string>> = {
  'as-asked': 'as asked',
  less: 'less',
  more: 'more: stop and look',
  'not-seen': 'not seen',
}
