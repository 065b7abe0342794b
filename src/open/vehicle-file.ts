import { readFile } from 'node:fs/promises'
import type { z } from 'zod'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'

/** Reads and checks a vehicle file. @throws LogError one sentence naming the file and field. */
export async function readVehicleFile(path: string): Promise<Vehicle> {
  let text: string
  try {
    text = await readFile(path, 'utf8')
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    const why = code === 'ENOENT' ? 'there is no such file' : `cannot be read (${code ?? error})`
    throw new LogError('vehicle-unreadable', `${path}: ${why}; a vehicle file (JSON) was expected.`)
  }
  return parseVehicle(text, path)
}

/** Fields that a vehicle file gives and nothing reads, such as a slip of the pen: `pack.cels`. */
export async function unknownFields(path: string): Promise<string[]> {
  const json = JSON.parse(await readFile(path, 'utf8')) as unknown
  return left(json, vehicleSchema.parse(json), '')
}

function left(given: unknown, known: unknown, at: string): string[] {
  if (typeof given !== 'object' || given === null || Array.isArray(given)) return []
  const read = (known ?? {}) as Record<string, unknown>
  return Object.entries(given).flatMap(([key, value]) =>
    key in read ? left(value, read[key], `${at}${key}.`) : [at + key],
  )
}

/** @param name what the file is called in the error's sentence. @throws LogError naming the file and field. */
export function parseVehicle(text: string, name: string): Vehicle {
  let json: unknown
  try {
    json = JSON.parse(text)
  } catch (error) {
    throw new LogError('vehicle-unreadable', `${name}: is not readable JSON (${(error as Error).message}).`)
  }
  const parsed = vehicleSchema.safeParse(json)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]!
  const field = issue.path.join('.') || '(top)'
  throw new LogError('vehicle-invalid', `${name}: field ${field}: ${plain(issue, json)}.`)
}

/** What was found at the field, and what was expected. */
function plain(issue: z.core.$ZodIssue, json: unknown): string {
  let found: unknown = json
  for (const key of issue.path) found = (found as Record<PropertyKey, unknown> | undefined)?.[key]
  const text = found === undefined ? 'nothing' : JSON.stringify(found).slice(0, 60)
  const expected =
    issue.code === 'invalid_type'
      ? `${/^[aeiou]/.test(issue.expected) ? 'an' : 'a'} ${issue.expected}`
      : issue.message.replace(/^Invalid input: /, '').replace(/^expected /, '')
  return `${text} was found, ${expected} was expected`
}
