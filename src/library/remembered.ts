import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { type Corrections, correctionsSchema } from '../../shared/api.ts'
import { onDisk, writeAside } from './durable.ts'
import { openPlace, type Place } from './place.ts'

/** Corrections of column names that a person asked to keep, by the log layout's fingerprint. */
function fileOf(place: Place, fingerprint: string): string {
  const hash = createHash('sha256').update(fingerprint).digest('hex').slice(0, 32)
  return join(place.dataDir, 'corrections', `${hash}.json`)
}

/** Corrections remembered for this layout; none where nothing is remembered or the file is damaged. */
export function rememberedCorrections(place: Place, fingerprint: string): Corrections {
  try {
    return correctionsSchema.parse(JSON.parse(readFileSync(fileOf(place, fingerprint), 'utf8')))
  } catch {
    return {}
  }
}

export function rememberCorrections(place: Place, fingerprint: string, corrections: Corrections): void {
  const all = { ...rememberedCorrections(place, fingerprint), ...corrections }
  onDisk('The corrections could not be kept', () =>
    writeAside(fileOf(place, fingerprint), `${JSON.stringify(all, null, 1)}\n`),
  )
}

/** What is remembered in a data directory, by fingerprint: for the command line. */
export async function rememberedMaps(dataDir?: string): Promise<(fingerprint: string) => Corrections> {
  const place = openPlace(dataDir)
  return (fingerprint) => rememberedCorrections(place, fingerprint)
}
