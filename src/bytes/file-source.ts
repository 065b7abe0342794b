import { createHash } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { open } from 'node:fs/promises'
import { basename } from 'node:path'
import { createGunzip } from 'node:zlib'
import { LogError } from '../errors.ts'

/** A log's bytes, unpacked, readable as often as an importer needs (counting first, then filling). */
export interface LogSource {
  readonly name: string
  /** True where the file was gzip-compressed. */
  readonly packed: boolean
  /** The first bytes, unpacked (up to 64 KiB): enough to tell the layout. */
  readonly head: Uint8Array
  /** All bytes from the start, unpacked; each call starts again. Ends early, noting `damage()`, at a broken gzip. */
  chunks(): AsyncIterable<Uint8Array>
  /** SHA-256 of the file as it lies on disk, hex. */
  sha256(): Promise<string>
  /** What broke the last reading off, in words; null where all was read. */
  damage(): string | null
}

const HEAD_BYTES = 65536

/** Opens a log on disk. @throws LogError where it cannot be read or is empty. */
export async function openLogSource(path: string): Promise<LogSource> {
  let magic: Uint8Array
  try {
    const file = await open(path)
    const { buffer, bytesRead } = await file.read(new Uint8Array(2), 0, 2, 0)
    await file.close()
    magic = buffer.subarray(0, bytesRead)
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? String(error)
    throw new LogError('unreadable', `${path}: cannot be read (${code}).`)
  }
  if (magic.length === 0) throw new LogError('empty', `${path}: the file is empty; a log was expected.`)
  const packed = magic[0] === 0x1f && magic[1] === 0x8b
  let broken: string | null = null
  async function* chunks(): AsyncIterable<Uint8Array> {
    const raw = createReadStream(path, { highWaterMark: 1 << 20 })
    if (!packed) {
      yield* raw
      return
    }
    broken = null
    try {
      yield* raw.pipe(createGunzip({ chunkSize: 1 << 18 }))
    } catch (error) {
      broken = `the gzip data breaks off (${(error as Error).message})`
    }
  }
  const parts: Uint8Array[] = []
  let length = 0
  for await (const chunk of chunks()) {
    parts.push(chunk)
    length += chunk.length
    if (length >= HEAD_BYTES) break
  }
  return {
    name: basename(path),
    packed,
    head: Buffer.concat(parts).subarray(0, HEAD_BYTES),
    chunks,
    async sha256() {
      const hash = createHash('sha256')
      for await (const chunk of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(chunk)
      return hash.digest('hex')
    },
    damage: () => broken,
  }
}
