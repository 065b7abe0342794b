import { randomBytes } from 'node:crypto'
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { LogError } from '../errors.ts'
import { OWN_FOLDER, step, syncFolder, syncTree, writeAside, writeDurably } from './durable.ts'
import { isLeftAside, isRunning, ownerText, withLock } from './lock.ts'
import { driveDir, type Place } from './paths.ts'

/**
 * A stored drive is a folder of generations and a pointer to the one that counts:
 *
 *     drives/<id>/current      "g-9f3a2c…": one small file, replaced by one rename
 *                 g-9f3a2c…/   a whole reading of the drive, never changed but for its title
 *                 g-…          one being written, or one left by a process that died: its `owner` tells
 *                 notes.json   a person's notes and title, beside the readings: no new reading loses them
 *
 * At no moment is there no drive: until the rename the old reading counts, after it the new one. Drives stored before
 * there were generations have their files in `drives/<id>/` itself and no pointer.
 */
const NAME = /^g-[0-9a-f]{16}$/
const OLD_LAYOUT =
  /^(?:drive|review|vehicle|corrections|channels|map)\.json$|^signals\.(?:json|csv)$|^(?:logs|time|values|pyramid|fresh)$/

/** The folder of the reading that counts; null where there is no such drive. */
export function currentFolder(place: Place, id: string): string | null {
  const dir = driveDir(place, id)
  for (let tries = 0; tries < 5; tries++) {
    const name = pointer(dir)
    if (name === null)
      return existsSync(join(dir, 'drive.json')) || existsSync(join(dir, 'logs')) ? dir : null
    // A reading that is gone again was replaced since the pointer was read.
    if (NAME.test(name) && existsSync(join(dir, name))) return join(dir, name)
  }
  // A pointer that was damaged: the one whole reading there is, if there is one.
  const whole = generations(dir).filter(
    (each) => existsSync(join(dir, each, 'drive.json')) && !isOwned(join(dir, each)),
  )
  return whole.length === 1 ? join(dir, whole[0]!) : dir
}

function pointer(dir: string): string | null {
  try {
    return readFileSync(join(dir, 'current'), 'utf8').trim()
  } catch {
    return null
  }
}

function generations(dir: string): string[] {
  try {
    return readdirSync(dir).filter((name) => NAME.test(name))
  } catch {
    return []
  }
}

/**
 * Writes a reading aside with `fill`, then makes it the one that counts. What `fill` throws leaves everything as it was.
 * @param commit last changes under the lock, given the folder that counted before (null: a new drive)
 */
export function storeGeneration<T>(place: Place, id: string, fill: (folder: string) => T): T {
  const dir = driveDir(place, id)
  const fresh = join(dir, `g-${randomBytes(8).toString('hex')}`)
  let counts = false
  try {
    // Under the lock, or another's tidying could find the folder before its owner stands in it.
    withLock(place.dataDir, () => {
      mkdirSync(fresh, { recursive: true, mode: OWN_FOLDER })
      writeDurably(join(fresh, 'owner'), ownerText())
    })
    step('generation-begun')
    const made = fill(fresh)
    step('generation-filled')
    syncTree(fresh)
    step('generation-synced')
    withLock(place.dataDir, () => {
      const before = currentFolder(place, id)
      writeAside(join(dir, 'current'), `${fresh.slice(dir.length + 1)}\n`)
      counts = true
      step('pointer-moved')
      syncFolder(join(dir, '..'))
      rmSync(join(fresh, 'owner'), { force: true })
      for (const name of readdirSync(dir)) {
        const path = join(dir, name)
        // Readers may still be at the reading before: it goes with the next one, or at the next opening.
        if (path === fresh || path === before || (NAME.test(name) && isOwned(path))) continue
        if (NAME.test(name) || (before !== dir && OLD_LAYOUT.test(name)))
          rmSync(path, { recursive: true, force: true })
      }
      step('older-removed')
    })
    return made
  } catch (error) {
    // Once it counts it stays, whatever the tidying after it met: the next opening does that again.
    if (!counts) {
      rmSync(fresh, { recursive: true, force: true })
      try {
        rmdirSync(dir)
      } catch {}
    }
    throw error
  }
}

/** Takes a drive out of the list by one rename, then removes it. @throws LogError where there is none */
export function removeGenerations(place: Place, id: string): void {
  const dir = driveDir(place, id)
  const gone = `${dir}.gone`
  withLock(place.dataDir, () => {
    if (currentFolder(place, id) === null)
      throw new LogError('no-such-drive', 'There is no stored drive with this id.')
    rmSync(gone, { recursive: true, force: true })
    renameSync(dir, gone)
    syncFolder(join(dir, '..'))
  })
  step('drive-gone')
  rmSync(gone, { recursive: true, force: true })
}

/** Removes what no living process writes and nothing points to. To be called under the lock. */
export function tidyDrive(place: Place, id: string): void {
  const dir = driveDir(place, id)
  const current = currentFolder(place, id)
  for (const name of readdirSync(dir)) {
    const path = join(dir, name)
    if (path === current) rmSync(join(path, 'owner'), { force: true })
    else if (isLeftAside(name)) rmSync(path, { force: true })
    else if (NAME.test(name) && !isOwned(path) && current !== dir)
      rmSync(path, { recursive: true, force: true })
    else if (NAME.test(name) && !isOwned(path) && !existsSync(join(dir, 'current')))
      rmSync(path, { recursive: true, force: true })
    else if (current !== null && current !== dir && OLD_LAYOUT.test(name))
      rmSync(path, { recursive: true, force: true })
  }
  if (current === null)
    try {
      rmdirSync(dir)
    } catch {}
}

/** Nothing in the drive's folder but what counts: pointer, notes and the one reading, and nobody at work in it. */
export function isAsStored(place: Place, id: string, current: string): boolean {
  const dir = driveDir(place, id)
  return (
    current !== dir &&
    !existsSync(join(current, 'owner')) &&
    readdirSync(dir).every(
      (name) => name === 'current' || name === 'notes.json' || join(dir, name) === current,
    )
  )
}

/** Is a living process at work in this folder? */
export function isOwned(folder: string): boolean {
  try {
    return isRunning(readFileSync(join(folder, 'owner'), 'utf8'))
  } catch {
    return false
  }
}
