import { existsSync, readdirSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { isTidy } from './drive-index.ts'
import { isOwned, tidyDrive } from './generations.ts'
import { isId } from './ids.ts'
import { isLeftAside, isRunning, withLock } from './lock.ts'
import { carsDir, drivesDir, type Place } from './paths.ts'

/** What was left by versions before uploads had an owner goes after this long, ms. */
const ABANDONED_MS = 86_400_000

/**
 * Puts right what a process that died has left: a replace is finished or rolled back, half-written readings, removed drives
 * and abandoned uploads go. What a living process is at stays.
 */
export function recover(place: Place): void {
  withLock(place.dataDir, () => {
    const drives = drivesDir(place)
    for (const name of readdirSync(drives)) {
      const path = join(drives, name)
      const [id = '', ending] = name.split('.')
      if (!isId(id)) continue
      // A version without generations moved the old drive to `.old` before it moved the new one in.
      if (ending === 'old' && !existsSync(join(drives, id))) renameSync(path, join(drives, id))
      else if (ending === 'old' || ending === 'gone' || ending === 'aside')
        rmSync(path, { recursive: true, force: true })
    }
    for (const id of readdirSync(drives).filter(isId)) if (!isTidy(place, id)) tidyDrive(place, id)
    const incoming = join(place.dataDir, 'incoming')
    for (const id of readdirSync(incoming)) {
      const path = join(incoming, id)
      const owned = existsSync(join(path, 'owner'))
      // Made and owned under the lock: an empty one without an owner is of a process that died in between.
      const dead = owned ? !isOwned(path) : readdirSync(path).length === 0
      if (dead || (!owned && Date.now() - statSync(path).mtimeMs > ABANDONED_MS))
        rmSync(path, { recursive: true, force: true })
    }
    const cars = readdirSync(carsDir(place)).flatMap((key) => [
      join(carsDir(place), key),
      join(carsDir(place), key, 'files'),
    ])
    for (const folder of [place.dataDir, join(place.dataDir, 'corrections'), ...cars.filter(existsSync)])
      for (const name of readdirSync(folder)) {
        const path = join(folder, name)
        const ofLock = /^lock\.(\d+-|breaking$)/.test(name)
        if (ofLock ? !isHeld(path) : isLeftAside(name)) rmSync(path, { force: true })
      }
  })
}

function isHeld(path: string): boolean {
  try {
    return isRunning(readFileSync(path, 'utf8'))
  } catch {
    return true
  }
}
