import { readFile } from 'node:fs/promises'
import { type Vehicle, vehicleSchema } from '../shared/vehicle.ts'
import { LogError } from './errors.ts'

/** Reads and checks a vehicle file. @throws LogError one sentence naming the file and field. */
export async function readVehicleFile(path: string): Promise<Vehicle> {
  let text: string
  try {
    text = await readFile(path, 'utf8')
  } catch (error) {
    throw new LogError('vehicle-unreadable', `${path}: is not readable JSON (${(error as Error).message}).`)
  }
  return parseVehicle(text, path)
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
  throw new LogError('vehicle-invalid', `${name}: field ${field}: ${issue.message}.`)
}
