import type { LogSource } from '../../bytes/file-source.ts'
import type { FrameOutlet } from '../frames/frame-sink.ts'

const CHUNK = 1 << 20

/**
 * Reads whole records from a stream of chunks without joining the chunks: only a record that lies across a border is
 * stitched, from at most `longest` bytes.
 *
 * @param longest the most bytes that `read` ever needs to see of one record
 * @param outlet is told where payloads lie, and flushed before a chunk's memory is used again
 * @param read takes the records that begin at `from` or later and before `stop`; returns where the first one it could
 *   not finish begins (beyond the bytes: so many more are to be skipped), or −1 to end the walk
 * @returns bytes left over at the end, and where they begin
 */
export async function walkRecords(
  source: LogSource,
  longest: number,
  outlet: FrameOutlet,
  read: (view: DataView, from: number, stop: number, fileOffset: number) => number,
): Promise<{ readonly left: number; readonly at: number }> {
  const take = (bytes: Uint8Array, from: number, stop: number, fileOffset: number): number => {
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    outlet.useView(view)
    const at = read(view, from, stop, fileOffset)
    outlet.flush()
    return at
  }
  let carry: Uint8Array = new Uint8Array(0)
  let skip = 0
  let offset = 0 // of the next chunk's first byte
  const room = new Uint8Array(CHUNK)
  for await (const chunk of source.chunks(() => room)) {
    let from = Math.min(skip, chunk.length)
    skip -= from
    if (carry.length > 0) {
      const joint = Buffer.concat([carry, chunk.subarray(0, longest)])
      const at = take(joint, 0, carry.length, offset - carry.length)
      if (at < 0) return { left: 0, at: offset }
      if (at < carry.length) {
        if (chunk.length > longest) return { left: joint.length - at, at: offset - carry.length + at }
        carry = joint.subarray(at)
        offset += chunk.length
        continue
      }
      from = at - carry.length
      carry = carry.subarray(0, 0)
      if (from > chunk.length) skip = from - chunk.length
    }
    if (from < chunk.length) {
      const at = take(chunk, from, chunk.length, offset)
      if (at < 0) return { left: 0, at: offset + chunk.length }
      if (at < chunk.length)
        carry = chunk.slice(at) // the chunk's memory is used again
      else skip = at - chunk.length
    }
    offset += chunk.length
  }
  return { left: carry.length, at: offset - carry.length }
}
