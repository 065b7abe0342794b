import { statfsSync } from 'node:fs'

/** Bytes that must come free before a drive is tried again on a disk that was full. */
const LEAST_BYTES = 256 * 1024

/** Bytes free on the disk of a folder. */
export function freeBytes(folder: string): number {
  const { bavail, bsize } = statfsSync(folder)
  return bavail * bsize
}

/**
 * Waits until a disk that was full has room again.
 * @returns false where none came within `patienceMs`
 */
export async function waitForRoom(folder: string, patienceMs: number): Promise<boolean> {
  const before = freeBytes(folder)
  const until = Date.now() + patienceMs
  while (Date.now() < until) {
    await new Promise((done) => setTimeout(done, Math.min(500, patienceMs)))
    if (freeBytes(folder) >= before + LEAST_BYTES) return true
  }
  return false
}
