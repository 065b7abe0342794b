import type { Channel, Segment, SegmentType } from '../../shared/drive.ts'
import { heldAt } from './on-one-clock.ts'

/** First cut: by speed and key on a grid of tenths of a second. */
export function findSegments(channels: ReadonlyMap<string, Channel>, durationS: number): Segment[] {
  const n = Math.max(1, Math.ceil(durationS * 10))
  const grid = Float64Array.from({ length: n }, (_, i) => i / 10)
  const at = (id: string): Float64Array | null => {
    const channel = channels.get(id)
    return channel ? heldAt(channel, grid) : null
  }
  const speed = at('speed')
  const key = at('key_on')
  const ready = at('drive_ready')
  const plug = at('charge_plug')
  const segments: Segment[] = []
  let keyCycle = 0
  let from = 0
  let type: SegmentType | null = null
  for (let i = 0; i <= n; i++) {
    if (key && i > 0 && i < n && key[i] === 1 && key[i - 1] !== 1) keyCycle++
    const next: SegmentType | null =
      i === n
        ? null
        : plug && plug[i] === 1
          ? 'charging'
          : (speed && speed[i]! > 1) || (ready && ready[i] === 1)
            ? 'driving'
            : key && key[i] === 1
              ? 'starting'
              : speed || key
                ? 'parked'
                : 'unknown'
    if (next === type) continue
    if (type) segments.push({ span_s: [from / 10, i / 10], type, key_cycle: keyCycle, cut: 'none' })
    type = next
    from = i
  }
  return segments
}
