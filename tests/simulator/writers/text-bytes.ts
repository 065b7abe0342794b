import { gzipSync } from 'node:zlib'

export type Encoding = 'utf-8' | 'utf-8 with BOM' | 'utf-16le' | 'utf-16be' | 'latin-1'

export function encode(text: string, encoding: Encoding): Uint8Array {
  if (encoding === 'utf-8') return Buffer.from(text, 'utf8')
  if (encoding === 'utf-8 with BOM') return Buffer.from(`\ufeff${text}`, 'utf8')
  if (encoding === 'latin-1') return Buffer.from(text, 'latin1')
  const little = Buffer.from(`\ufeff${text}`, 'utf16le')
  return encoding === 'utf-16le' ? little : little.swap16()
}

/** The same bytes every time: no name, no date, system `unknown`. */
export function gzip(bytes: Uint8Array): Uint8Array {
  const packed = gzipSync(bytes, { level: 9 })
  packed.fill(0, 4, 8)
  packed[9] = 255
  return packed
}
