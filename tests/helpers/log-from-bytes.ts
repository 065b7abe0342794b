import type { LogSource } from '../../src/bytes/file-source.ts'

/** A log in memory, handed out in chunks of the given size. */
export function logFromBytes(name: string, bytes: Uint8Array | string, chunkBytes = 1 << 20): LogSource {
  const all = typeof bytes === 'string' ? new TextEncoder().encode(bytes) : bytes
  return {
    name,
    packed: false,
    size: all.length,
    head: all.subarray(0, 1 << 18),
    async *chunks() {
      for (let at = 0; at < all.length; at += chunkBytes) yield all.subarray(at, at + chunkBytes)
    },
    slice: (from, to) => all.subarray(from, to),
    sha256: async () => 'not computed',
    damage: () => null,
  }
}
