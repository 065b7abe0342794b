import { z } from 'zod'
import { type DriveSummary, driveSummarySchema } from '../../shared/api.ts'
import type { DriveFrame } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import { unseenAreas } from '../../shared/wording.ts'
import { packReading } from '../history/cell-series.ts'

/** Rises when a drive stored before can no longer be read as it is. */
export const STORED_VERSION = 1

/** `drive.json` of a stored drive. */
export const storedDriveSchema = z.object({
  version: z.literal(STORED_VERSION),
  summary: driveSummarySchema,
  logs: z.array(z.object({ name: z.string(), bytes: z.int() })),
  signals: z.enum(['signals.json', 'signals.csv']).nullable(),
  has_map: z.boolean(),
  /** Seconds that a person gave for the second, third … log's own time; null where the data decide. */
  offsets: z.array(z.number().nullable()).optional(),
  frame: z.custom<DriveFrame>((value) => typeof value === 'object' && value !== null),
})
export type StoredDrive = z.infer<typeof storedDriveSchema>

export function summarise(
  id: string,
  title: string,
  car: string | null,
  addedAt: string,
  review: Review,
  kit: string | null = null,
): DriveSummary {
  const count = (severity: string) => review.findings.filter((each) => each.severity === severity).length
  return {
    id,
    title,
    car,
    added_at: addedAt,
    started_at: review.drive.started_at,
    duration_s: review.drive.duration_s,
    distance_km: review.drive.distance_km,
    files: review.drive.files.map(({ name, sha256 }) => ({ name, sha256 })),
    stop: count('stop'),
    attention: count('attention'),
    note: count('note'),
    not_assessed: review.questions.filter((each) => each.state === 'not-assessed').length,
    verdict: { state: review.verdict.state, sentence: review.verdict.sentence },
    worst: review.findings.find(({ severity }) => severity !== 'note')?.headline ?? null,
    unseen: unseenAreas(review),
    kit,
    typical_mohm: packReading(review)?.typicalMohm ?? null,
    found: review.findings.map(({ severity, id }) => `${severity} ${id}`),
  }
}
