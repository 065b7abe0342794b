import type { Frame } from './frames.ts'
import { encode } from './text-bytes.ts'

export interface FrameDialect {
  readonly delimiter: ',' | ';' | '\t'
  readonly decimal: '.' | ','
  readonly identifier: 'hex' | '0x' | 'decimal'
  readonly data: 'one field' | 'spaced' | 'eight fields'
}

/** A row a frame: time in seconds, identifier, extended flag, length, data in hex. */
export function writeFrameCsv(frames: readonly Frame[], dialect: FrameDialect): Uint8Array {
  const { delimiter } = dialect
  const eight = dialect.data === 'eight fields'
  const data = eight ? Array.from({ length: 8 }, (_, b) => `Byte${b}`) : ['Data']
  const lines = [['Seconds', 'Identifier', 'Ext', 'Len', ...data].join(delimiter)]
  for (const frame of frames) {
    const hex = Array.from(frame.data, (byte) => byte.toString(16).toUpperCase().padStart(2, '0'))
    const identifier =
      dialect.identifier === 'decimal'
        ? String(frame.identifier)
        : (dialect.identifier === '0x' ? '0x' : '') + frame.identifier.toString(16).toUpperCase()
    const time = frame.ownS.toFixed(6)
    const bytes = eight
      ? Array.from({ length: 8 }, (_, b) => hex[b] ?? '').join(delimiter)
      : hex.join(dialect.data === 'spaced' ? ' ' : '')
    const fields = [
      dialect.decimal === ',' ? time.replace('.', ',') : time,
      identifier,
      frame.extended ? '1' : '0',
      String(frame.data.length),
      bytes,
    ]
    lines.push(fields.join(delimiter))
  }
  return encode(`${lines.join('\n')}\n`, 'utf-8')
}
