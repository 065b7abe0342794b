import { chmodSync, existsSync, mkdirSync } from 'node:fs'
import { homedir } from 'node:os'
import { join, resolve } from 'node:path'
import { LogError } from '../errors.ts'
import { diskFault, OWN_FOLDER } from './durable.ts'
import type { Place } from './paths.ts'
import { recover } from './recover.ts'

export { driveDir, drivesDir, incomingDir, type Place } from './paths.ts'

/** `dir`, else `AFTERMILE_DATA`, else `~/.local/share/aftermile`; made where missing. */
export function openPlace(dir?: string): Place {
  const dataDir = resolve(
    dir ?? (process.env.AFTERMILE_DATA || join(homedir(), '.local', 'share', 'aftermile')),
  )
  if (opened.has(dataDir) && existsSync(join(dataDir, 'drives'))) return { dataDir }
  try {
    mkdirSync(dataDir, { recursive: true, mode: OWN_FOLDER })
    for (const sub of ['drives', 'corrections', 'incoming', 'cars']) {
      mkdirSync(join(dataDir, sub), { recursive: true, mode: OWN_FOLDER })
      chmodSync(join(dataDir, sub), OWN_FOLDER)
    }
    recover({ dataDir })
  } catch (error) {
    if (error instanceof LogError) throw error
    // What is stored can still be read where nothing can be written.
    if (diskFault(error) !== null && existsSync(join(dataDir, 'drives'))) return { dataDir }
    const why = diskFault(error) ?? (error as NodeJS.ErrnoException).code ?? String(error)
    throw new LogError('data-dir', `${dataDir}: cannot be used as the data directory (${why}).`)
  }
  opened.add(dataDir)
  return { dataDir }
}

/** What this process has opened, and so put right, already. */
const opened = new Set<string>()
