import { readFile } from 'node:fs/promises'
import { type Vehicle, vehicleSchema } from '../shared/vehicle.ts'
import { LogError } from './errors.ts'

/** Reads and checks a vehicle file. @throws LogError one sentence naming the file and field. */
export async function readVehicleFile(path: string): Promise<Vehicle> {
  let json: unknown
  try {
    json = JSON.parse(await readFile(path, 'utf8'))
  } catch (error) {
    throw new LogError('vehicle-unreadable', `${path}: is not readable JSON (${(error as Error).message}).`)
  }
  const parsed = vehicleSchema.safeParse(json)
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!
    throw new LogError(
      'vehicle-invalid',
      `${path}: field ${issue.path.join('.') || '(top)'}: ${issue.message}.`,
    )
  }
  return parsed.data
}
