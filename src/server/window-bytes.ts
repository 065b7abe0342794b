import type { WindowHeader } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import type { Points } from '../library/read-channels.ts'

/** A window of channels as bytes; the layout stands at `windowHeaderSchema` in shared/api.ts. */
export function windowBytes(span: Span, channels: readonly { id: string; points: Points }[]): Buffer {
  const header: WindowHeader = {
    span_s: [span[0], span[1]],
    channels: channels.map(({ id, points }) => ({
      id,
      points: points.timeS.length,
      thinned: points.thinned,
    })),
  }
  const text = Buffer.from(JSON.stringify(header))
  const padded = Math.ceil((4 + text.length) / 8) * 8 - 4
  const parts: Uint8Array[] = [Buffer.alloc(4), text, Buffer.alloc(padded - text.length, ' ')]
  new DataView(parts[0]!.buffer, parts[0]!.byteOffset, 4).setUint32(0, padded, true)
  for (const { points } of channels) {
    const { timeS, values } = points
    parts.push(new Uint8Array(timeS.buffer, timeS.byteOffset, timeS.byteLength))
    parts.push(new Uint8Array(values.buffer, values.byteOffset, values.byteLength))
    if (values.length % 2 === 1) parts.push(Buffer.alloc(4))
  }
  return Buffer.concat(parts)
}
