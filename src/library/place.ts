import { mkdirSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { homedir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { LogError } from '../errors.ts'
import { isId } from './ids.ts'

/**
 * Where stored drives live. Every path inside is made here from generated ids and numbers, never from a request.
 *
 *     DATA/drives/<id>/   drive.json review.json vehicle.json corrections.json notes.json
 *                         logs/1 logs/2 …        the original files, byte for byte
 *                         time/1.f64 …           time bases, shared by channels
 *                         values/1.f32|.f64 …    samples
 *                         pyramid/1.f32 …        lowest and highest a block
 *     DATA/corrections/<hash of the columns' names>.json
 *     DATA/incoming/<id>/ uploads under way
 */
export interface Place {
  readonly dataDir: string
}

/** `dir`, else `AFTERMILE_DATA`, else `~/.local/share/aftermile`; made where missing. */
export function openPlace(dir?: string): Place {
  const dataDir = resolve(
    dir ?? (process.env.AFTERMILE_DATA || join(homedir(), '.local', 'share', 'aftermile')),
  )
  try {
    for (const sub of ['drives', 'corrections', 'incoming'])
      mkdirSync(join(dataDir, sub), { recursive: true })
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? String(error)
    throw new LogError('data-dir', `${dataDir}: cannot be used as the data directory (${code}).`)
  }
  return { dataDir }
}

export function drivesDir(place: Place): string {
  return join(place.dataDir, 'drives')
}

/** Folder of a drive. @throws LogError for anything that is not one of our ids. */
export function driveDir(place: Place, id: string): string {
  if (!isId(id)) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  return join(drivesDir(place), id)
}

export function incomingDir(place: Place, id: string): string {
  if (!isId(id)) throw new LogError('no-such-import', 'There is no import with this id.')
  return join(place.dataDir, 'incoming', id)
}

/** Writes a file aside, then renames it: a reader sees the old one or the new one, never half of one. */
export function writeAside(path: string, text: string): void {
  mkdirSync(dirname(path), { recursive: true })
  const aside = `${path}.aside`
  writeFileSync(aside, text)
  renameSync(aside, path)
}

/** Puts a finished folder in place of `target` (which may exist). */
export function swapIn(finished: string, target: string): void {
  const old = `${target}.old`
  rmSync(old, { recursive: true, force: true })
  try {
    renameSync(target, old)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error
  }
  renameSync(finished, target)
  rmSync(old, { recursive: true, force: true })
}
