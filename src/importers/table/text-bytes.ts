import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'

/** `utf-8` and `latin-1` share ASCII's bytes, so rows are scanned as they are; UTF-16 is turned into UTF-8 first. */
export type Encoding = 'utf-8' | 'latin-1' | 'utf-16le' | 'utf-16be'

export interface TextForm {
  readonly encoding: Encoding
  /** Bytes of the byte order mark at the start. */
  readonly markBytes: number
}

/** @throws LogError where the bytes are no text: names the first byte that no text holds. */
export function textForm(head: Uint8Array, name: string): TextForm {
  if (head[0] === 0xff && head[1] === 0xfe) return { encoding: 'utf-16le', markBytes: 2 }
  if (head[0] === 0xfe && head[1] === 0xff) return { encoding: 'utf-16be', markBytes: 2 }
  const markBytes = head[0] === 0xef && head[1] === 0xbb && head[2] === 0xbf ? 3 : 0
  const zeros = [0, 0]
  const looked = Math.min(head.length, 4096)
  for (let i = 0; i < looked; i++) if (head[i] === 0) zeros[i & 1]!++
  if (zeros[1]! > 0.4 * (looked / 2) && zeros[0] === 0) return { encoding: 'utf-16le', markBytes: 0 }
  if (zeros[0]! > 0.4 * (looked / 2) && zeros[1] === 0) return { encoding: 'utf-16be', markBytes: 0 }
  const odd = head
    .subarray(0, looked)
    .findIndex((byte) => byte < 9 || (byte > 13 && byte < 32 && byte !== 27))
  // Zeros to the end: a box that lost its supply left the rest of the file unwritten.
  const unwritten = odd > 0 && head[odd] === 0 && head.subarray(odd).every((byte) => byte === 0)
  if (odd >= 0 && !unwritten) {
    const zip = head[0] === 0x50 && head[1] === 0x4b
    const found = zip
      ? 'the file is a zip archive, as a spreadsheet workbook is'
      : `byte ${odd} is 0x${head[odd]!.toString(16).padStart(2, '0')}, which no text holds`
    throw new LogError('not-text', `${name}: ${found}; a log as text (CSV) was expected.`)
  }
  return { encoding: isUtf8(head.subarray(markBytes)) ? 'utf-8' : 'latin-1', markBytes }
}

function isUtf8(bytes: Uint8Array): boolean {
  // A sequence cut by the end of the head is no fault: up to three bytes may be missing.
  for (let cut = 0; cut < 4 && cut <= bytes.length; cut++)
    try {
      new TextDecoder('utf-8', { fatal: true }).decode(bytes.subarray(0, bytes.length - cut))
      return true
    } catch {}
  return false
}

/** Bytes → text; lenient. */
export function decodeText(bytes: Uint8Array, encoding: Encoding): string {
  return new TextDecoder(encoding === 'latin-1' ? 'windows-1252' : encoding).decode(bytes)
}

/** The log's bytes in an encoding that shares ASCII's bytes, without the mark. */
export async function* asciiChunks(
  log: LogSource,
  form: TextForm,
  into: () => Uint8Array,
): AsyncIterable<Uint8Array> {
  if (form.encoding === 'utf-8' || form.encoding === 'latin-1') {
    let first = true
    for await (const chunk of log.chunks(into)) {
      yield first ? chunk.subarray(form.markBytes) : chunk
      first = false
    }
    return
  }
  const decoder = new TextDecoder(form.encoding)
  const encoder = new TextEncoder()
  for await (const chunk of log.chunks(into)) yield encoder.encode(decoder.decode(chunk, { stream: true }))
  yield encoder.encode(decoder.decode())
}
