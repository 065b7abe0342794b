import { z } from 'zod'
import { type Reading, readingSchema } from '../../shared/reading.ts'
import { visibleAll } from '../../shared/visible.ts'
import { type JsonKind, readJsonFile } from '../bytes/json-file.ts'
import { LogError } from '../errors.ts'

const KIND: JsonKind = { code: 'readings-unreadable', expected: 'readings taken at the car (JSON)' }
const fileSchema = z.union([z.array(readingSchema), z.object({ readings: z.array(readingSchema) })])
const FIELDS = 'kind, place, value (a number or "open"), unit, date (2026-11-27) and by'

/** Readings taken at the car: a list, or `{ "readings": [ … ] }`. @throws LogError naming file, entry and field */
export function readReadings(path: string): Reading[] {
  const json = readJsonFile(path, KIND)
  const parsed = fileSchema.safeParse(json)
  if (parsed.success) return visibleAll(Array.isArray(parsed.data) ? parsed.data : parsed.data.readings)
  const list = Array.isArray(json) ? json : (json as { readings?: unknown } | null)?.readings
  const at = Array.isArray(list) ? list.findIndex((each) => !readingSchema.safeParse(each).success) : -1
  if (at < 0)
    throw new LogError(
      'readings-invalid',
      `${path}: holds no list of readings; each with ${FIELDS} was expected.`,
    )
  const [issue] = readingSchema.safeParse((list as unknown[])[at]).error!.issues
  throw new LogError(
    'readings-invalid',
    `${path}: reading ${at + 1}, field ${issue!.path.join('.') || '(top)'}: ${issue!.message}; ${FIELDS} were expected.`,
  )
}
