import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'
import { onDisk, writeAside } from './durable.ts'
import { withLock } from './lock.ts'
import { driveDir, type Place } from './paths.ts'

/** `notes.json` of a stored drive. Without a title the drive's own stands. */
const notesSchema = z.object({ notes: z.string(), title: z.string().optional() })
export type Notes = z.infer<typeof notesSchema>

/** A person's words on a drive; lost or damaged ones are no reason not to show the drive. */
export function readNotes(place: Place, id: string): Notes & { readonly lost: boolean } {
  try {
    const text = readFileSync(join(driveDir(place, id), 'notes.json'), 'utf8')
    return { ...notesSchema.parse(JSON.parse(text)), lost: false }
  } catch {
    return { notes: '', lost: true }
  }
}

export function writeNotes(place: Place, id: string, notes: string, title?: string): void {
  onDisk('The notes could not be kept', () =>
    withLock(place.dataDir, () => {
      const kept = title ?? readNotes(place, id).title
      const value = { notes, ...(kept === undefined ? {} : { title: kept }) }
      writeAside(join(driveDir(place, id), 'notes.json'), `${JSON.stringify(value, null, 1)}\n`)
    }),
  )
}
