import { createHash } from 'node:crypto'
import { closeSync, createReadStream, openSync, readSync } from 'node:fs'
import { type FileHandle, open, stat } from 'node:fs/promises'
import { basename } from 'node:path'
import { createGunzip } from 'node:zlib'
import { BOUNDS } from '../../shared/bounds.ts'
import { LogError } from '../errors.ts'

/** A log's bytes, unpacked, readable as often as an importer needs (counting first, then filling). */
export interface LogSource {
  readonly name: string
  /** True where the file was gzip-compressed. */
  readonly packed: boolean
  /** The first bytes, unpacked (up to 256 KiB): enough to tell the layout. */
  readonly head: Uint8Array
  /** Bytes of the file on disk; packed where `packed`. */
  readonly size?: number
  /**
   * All bytes from the start, unpacked; each call starts again. Ends early, noting `damage()`, at a broken gzip.
   * @param into where given, each chunk of a plain file is read into the bytes it gives: no fresh memory per chunk
   */
  chunks(into?: () => Uint8Array): AsyncIterable<Uint8Array>
  /** Bytes [from, to) of a plain file, for layouts that are read from their end; absent where it is packed. */
  slice?(from: number, to: number): Uint8Array
  /** SHA-256 of the file as it lies on disk, hex. */
  sha256(): Promise<string>
  /** What broke the last reading off, in words; null where all was read. */
  damage(): string | null
}

const HEAD_BYTES = 1 << 18

/** Opens a log on disk. @throws LogError where it cannot be read, is no file or is empty. */
export async function openLogSource(path: string): Promise<LogSource> {
  const { magic, size } = await firstBytes(path)
  const name = basename(path)
  if (size === 0) throw new LogError('empty', `${path}: the file is empty; a log was expected.`)
  const packed = magic[0] === 0x1f && magic[1] === 0x8b
  let broken: string | null = null
  async function* chunks(into?: () => Uint8Array): AsyncIterable<Uint8Array> {
    broken = null
    if (packed) yield* unpacked(path, (why) => (broken = why))
    else if (into) yield* intoBuffer(path, into)
    else yield* createReadStream(path, { highWaterMark: 1 << 20 })
  }
  const parts: Uint8Array[] = []
  let length = 0
  for await (const chunk of chunks(() => new Uint8Array(HEAD_BYTES))) {
    parts.push(chunk)
    length += chunk.length
    if (length >= HEAD_BYTES) break
  }
  if (length === 0)
    throw new LogError('empty', `${path}: ${broken ?? 'nothing is in the gzip file'}; a log was expected.`)
  return {
    name,
    packed,
    size,
    head: Buffer.concat(parts).subarray(0, HEAD_BYTES),
    chunks,
    ...(packed ? {} : { slice: (from: number, to: number) => bytesOf(path, from, to) }),
    async sha256() {
      const hash = createHash('sha256')
      const room = new Uint8Array(1 << 20)
      for await (const chunk of intoBuffer(path, () => room)) hash.update(chunk)
      return hash.digest('hex')
    },
    damage: () => broken,
  }
}

function bytesOf(path: string, from: number, to: number): Uint8Array {
  const file = openSync(path, 'r')
  try {
    const bytes = new Uint8Array(Math.max(0, to - from))
    let done = 0
    while (done < bytes.length) {
      const count = readSync(file, bytes, done, bytes.length - done, from + done)
      if (count === 0) break
      done += count
    }
    return bytes.subarray(0, done)
  } finally {
    closeSync(file)
  }
}

async function firstBytes(path: string): Promise<{ magic: Uint8Array; size: number }> {
  let file: FileHandle | null = null
  try {
    const { size, isFile } = await stat(path).then((found) => ({ size: found.size, isFile: found.isFile() }))
    if (!isFile) throw new LogError('unreadable', `${path}: is not a file; a log was expected.`)
    file = await open(path)
    const { buffer, bytesRead } = await file.read(new Uint8Array(2), 0, 2, 0)
    return { magic: buffer.subarray(0, bytesRead), size }
  } catch (error) {
    if (error instanceof LogError) throw error
    const { code } = error as NodeJS.ErrnoException
    const why = code === 'ENOENT' ? 'there is no such file' : `cannot be read (${code ?? String(error)})`
    throw new LogError('unreadable', `${path}: ${why}; a log was expected.`)
  } finally {
    await file?.close()
  }
}

/**
 * The plain file, without fresh memory per chunk. Reads block, for a chunk's time only: waiting for a
 * thread to read costs a third as much again as scanning what it read.
 */
async function* intoBuffer(path: string, into: () => Uint8Array): AsyncIterable<Uint8Array> {
  const file = openSync(path, 'r')
  try {
    for (;;) {
      const room = into()
      const count = readSync(file, room, 0, room.length, null)
      if (count === 0) return
      yield room.subarray(0, count)
    }
  } finally {
    closeSync(file)
  }
}

async function* unpacked(path: string, broken: (why: string) => void): AsyncIterable<Uint8Array> {
  const raw = createReadStream(path, { highWaterMark: 1 << 18 })
  const gunzip = createGunzip({ chunkSize: 1 << 18 })
  raw.on('error', (error) => gunzip.destroy(error))
  try {
    let bytes = 0
    for await (const chunk of raw.pipe(gunzip) as AsyncIterable<Uint8Array>) {
      bytes += chunk.length
      if (bytes > BOUNDS.unpackedBytes) {
        broken(`it unpacks to over ${BOUNDS.unpackedBytes} bytes; what comes after is left out`)
        return
      }
      yield chunk
    }
  } catch (error) {
    broken(`the gzip data breaks off (${(error as Error).message})`)
  } finally {
    raw.destroy()
  }
}
