import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { currentFolder } from '../../src/library/generations.ts'
import { drivesIn, loadDrive, showDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { recover } from '../../src/library/recover.ts'

/** Each step of a write at which a process can be made to kill itself. */
export const STEPS = [
  'generation-begun',
  'logs-copied',
  'channels-written',
  'aside-written',
  'generation-filled',
  'generation-synced',
  'pointer-moved',
  'older-removed',
  'drive-gone',
] as const

/** Each step of an upload, before its drive is written. */
export const UPLOAD_STEPS = ['upload-begun', 'upload-announced', 'upload-arrived'] as const

/** The word a drive was stored with; null where it is absent. Throws where it is there but not whole. */
export function wordOf(dataDir: string, id: string): string | null {
  const place = openPlace(dataDir)
  const listed = drivesIn(place).find((each) => each.id === id)
  if (!listed) return null
  if (listed.trouble) throw new Error(listed.trouble)
  const shown = showDrive(place, id)
  if (shown.troubles.length > 0) throw new Error(shown.troubles.join(' '))
  if (loadDrive(place, id).channels.size === 0) throw new Error('no samples')
  const [log] = shown.logs
  try {
    const text = readFileSync(log!.path, 'utf8')
    if (!text.includes(log!.name)) throw new Error(`the log of ${log!.name} holds ${text}`)
  } catch (error) {
    // replaced since it was shown: the reading before last is gone
    if (
      (error as NodeJS.ErrnoException).code !== 'ENOENT' ||
      showDrive(place, id).logs[0]!.path === log!.path
    )
      throw error
  }
  return log!.name
}

/** What is there that no drive needs, after an opening. */
export function leftovers(dataDir: string): string[] {
  const place = openPlace(dataDir)
  recover(place)
  const found: string[] = []
  for (const name of readdirSync(dataDir))
    if (!/^(drives|corrections|incoming|cars|index\.ndjson)$|^log-\d+\.csv$/.test(name)) found.push(name)
  found.push(...readdirSync(join(dataDir, 'incoming')).map((name) => `incoming/${name}`))
  for (const id of readdirSync(join(dataDir, 'drives'))) {
    const dir = join(dataDir, 'drives', id)
    const current = currentFolder(place, id)
    for (const name of readdirSync(dir))
      if (join(dir, name) !== current && name !== 'current' && name !== 'notes.json')
        found.push(`${id}/${name}`)
    if (current && existsSync(join(current, 'owner'))) found.push(`${id}/owner`)
  }
  return found
}
