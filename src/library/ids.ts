import { randomBytes } from 'node:crypto'

/** A new id of a stored drive: sorts by time, says nothing else: `20261125-083150-9f3a2c`. */
export function newId(now: Date = new Date()): string {
  const stamp = now.toISOString().replace(/[-:]/g, '').replace('T', '-').slice(0, 15)
  return `${stamp}-${randomBytes(3).toString('hex')}`
}

/** True for what `newId` makes. Everything else is refused before it comes near a path. */
export function isId(text: string): boolean {
  return /^\d{8}-\d{6}-[0-9a-f]{6}$/.test(text)
}
