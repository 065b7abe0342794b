import { randomBytes } from 'node:crypto'
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs'

/**
 * Writes a file aside, to the disk, then renames it: nobody meets half of one, and two who write the same file at once, on
 * two machines, never write into each other's.
 * @param fill is given what takes the bytes, in order
 */
export async function writeWhole(
  path: string,
  fill: (put: (bytes: Uint8Array) => void) => void | Promise<void>,
): Promise<void> {
  const aside = `${path}.${randomBytes(6).toString('hex')}.aside`
  try {
    const file = openSync(aside, 'wx', 0o644)
    try {
      await fill((bytes) => {
        for (let done = 0; done < bytes.length; ) done += writeSync(file, bytes, done)
      })
      fsyncSync(file)
    } finally {
      closeSync(file)
    }
    renameSync(aside, path)
  } catch (error) {
    rmSync(aside, { force: true })
    throw error
  }
}
