import { createHash } from 'node:crypto'
import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { LogError } from '../errors.ts'

export interface LogBytes {
  readonly name: string
  readonly sha256: string
  readonly packed: boolean
  readonly bytes: Uint8Array
}

/** Reads a log whole, unpacking gzip. */
export async function readLogBytes(path: string): Promise<LogBytes> {
  let file: Uint8Array
  try {
    file = await readFile(path)
  } catch (error) {
    throw new LogError(
      'unreadable',
      `${path}: cannot be read (${(error as NodeJS.ErrnoException).code ?? error}).`,
    )
  }
  const packed = file[0] === 0x1f && file[1] === 0x8b
  const sha256 = createHash('sha256').update(file).digest('hex')
  return { name: basename(path), sha256, packed, bytes: packed ? gunzipSync(file) : file }
}
