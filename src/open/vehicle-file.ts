import type { z } from 'zod'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { visibleAll } from '../../shared/visible.ts'
import { type JsonKind, parseJson, parseJsonText, readJsonFile } from '../bytes/json-file.ts'
import { LogError } from '../errors.ts'

const KIND: JsonKind = { code: 'vehicle-unreadable', expected: 'a vehicle file (JSON)' }

/** Reads and checks a vehicle file. @throws LogError one sentence naming the file and field. */
export async function readVehicleFile(path: string): Promise<Vehicle> {
  return checked(readJsonFile(path, KIND), path)
}

/** Fields that a vehicle file gives and nothing reads, such as a slip of the pen: `pack.cels`. */
export async function unknownFields(path: string): Promise<string[]> {
  const json = readJsonFile(path, KIND)
  return left(json, checked(json, path), '')
}

function left(given: unknown, known: unknown, at: string): string[] {
  if (typeof given !== 'object' || given === null) return []
  const read = (known ?? {}) as Record<string, unknown>
  return Object.entries(given).flatMap(([key, value]) =>
    key in read ? left(value, read[key], `${at}${key}.`) : [at + key],
  )
}

/** @param name what the file is called in the error's sentence. @throws LogError naming the file and field. */
export function parseVehicle(file: Uint8Array | string, name: string): Vehicle {
  return checked(
    typeof file === 'string' ? parseJsonText(file, name, KIND) : parseJson(file, name, KIND),
    name,
  )
}

function checked(json: unknown, name: string): Vehicle {
  const parsed = vehicleSchema.safeParse(json)
  if (parsed.success) return visibleAll(parsed.data)
  const issue = innermost(parsed.error.issues[0]!)
  throw new LogError('vehicle-invalid', `${name}: field ${fieldText(issue.path)}: ${plain(issue, json)}.`)
}

/** Of a field that may have several forms, the form that was got right the furthest. */
function innermost(issue: z.core.$ZodIssue): z.core.$ZodIssue {
  if (issue.code !== 'invalid_union') return issue
  const inside = issue.errors.flatMap(([first]) => (first ? [first] : []))
  const deepest = inside.sort((a, b) => b.path.length - a.path.length)[0]
  if (!deepest || deepest.path.length === 0) return issue
  return innermost({ ...deepest, path: [...issue.path, ...deepest.path] } as z.core.$ZodIssue)
}

/** `pack.ocv`, 2, 0 → "pack.ocv, entry 3, 1 (ocv)": places counted from 1, as people count. */
function fieldText(path: readonly PropertyKey[]): string {
  if (path.length === 0) return '(top)'
  const keys = path.filter((key) => typeof key !== 'number').join('.')
  const places = path.filter((key) => typeof key === 'number').map((key) => key + 1)
  return places.length > 0 ? `${keys}, entry ${places.join(', ')}` : keys
}

/** What was found at the field, and what was expected. */
function plain(issue: z.core.$ZodIssue, json: unknown): string {
  let found: unknown = json
  for (const key of issue.path) found = (found as Record<PropertyKey, unknown> | undefined)?.[key]
  const text = found === undefined ? 'nothing' : JSON.stringify(found).slice(0, 60)
  return `${text} was found, ${expectedText(issue)} was expected`
}

function expectedText(issue: z.core.$ZodIssue): string {
  if (issue.code === 'invalid_type')
    return `${/^[aeiou]/.test(issue.expected) ? 'an' : 'a'} ${issue.expected}`
  if (issue.code === 'too_big')
    return issue.origin === 'array' ? `a list of at most ${issue.maximum}` : `at most ${issue.maximum}`
  if (issue.code === 'too_small')
    return issue.origin === 'array'
      ? `a list of at least ${issue.minimum}`
      : `${issue.inclusive ? 'at least' : 'more than'} ${issue.minimum}`
  if (issue.code === 'invalid_union') return 'one of the forms in the README'
  return issue.message.replace(/^Invalid (input|option): /, '').replace(/^expected /, '')
}
