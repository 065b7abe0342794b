import type { Field } from '../importers/frames/signal.ts'
import type { Message } from './captured.ts'

/** A field that says which of several contents its frame carries. */
export interface Selector extends Field {
  readonly values: readonly number[]
  /** Flips of the other bits between frames of the same value, against those between neighbours. */
  readonly ratio: number
}

const LEAST_ROWS = 40
const MOST_VALUES = 64
/**
 * A selector goes round: it turns in so many of the frames, its next value follows from this one so often, and knowing
 * it takes away so much of what changes. Frames of one value are further apart than neighbours, so that for anything
 * but a selector the ratio is 1 or more. The second row is for orders such as 0 1 0 2 0 3. study:look, 27 November 2026.
 */
const GOES_ROUND: readonly { readonly turns: number; readonly follows: number; readonly ratio: number }[] = [
  { turns: 0.75, follows: 0.8, ratio: 0.93 },
  { turns: 0.4, follows: 0.6, ratio: 0.5 },
]

/**
 * Which field chooses the content? It goes round, and bits of the rest flip less between frames of one selector value
 * than between neighbours. Whole bytes, halves and the lowest or highest 2 to 6 bits of each byte are tried.
 * @param without bits that follow from others (counters, checksums), by byte
 */
export function findSelector(message: Message, without: Uint8Array): Selector | null {
  const { count, bytes } = message
  if (count < LEAST_ROWS || bytes < 2) return null
  const part = stretches(message)
  const { data, stride, count: rows } = part
  let best: (Selector & { score: number }) | null = null
  for (let byte = 0; byte < Math.min(bytes, 8); byte++)
    for (const [low, length] of PARTS) {
      const mask = ((1 << length) - 1) << low
      if ((without[byte]! & mask) !== 0) continue
      const seen = new Uint32Array(256)
      let turns = 0
      let before = -1
      const next = new Map<number, number>()
      for (let i = 0; i < rows; i++) {
        const value = (data[i * stride + byte]! & mask) >> low
        seen[value]!++
        if (i > 0 && value !== before) {
          turns++
          next.set(before * 256 + value, (next.get(before * 256 + value) ?? 0) + 1)
        }
        before = value
      }
      const values: number[] = []
      for (let value = 0; value < 256; value++) if (seen[value]! > 0) values.push(value)
      if (values.length < 2 || values.length > MOST_VALUES) continue
      const follows = commonest(next) / rows
      if (!GOES_ROUND.some((way) => turns >= way.turns * rows && follows >= way.follows)) continue
      if (rows < 5 * values.length || values.some((value) => seen[value]! < 3 && rows > 20 * values.length))
        continue
      const ratio = flipRatio(part, byte, mask, low, without)
      if (ratio === null) continue
      const differs =
        turns >= 0.75 * rows && follows >= 0.8 && contentsDiffer(part, rows, byte, mask, low, values, without)
      if (
        !differs &&
        !GOES_ROUND.some((way) => turns >= way.turns * rows && follows >= way.follows && ratio < way.ratio)
      )
        continue
      // of fields that tell alike the one with fewer values and more bits that stand still
      const score = ratio + 0.002 * values.length - 0.0005 * length
      if (!best || score < best.score)
        best = { startBit: 8 * byte + low, length, byteOrder: 'little', values, ratio, score }
    }
  if (!best) return null
  const { score: _, ...selector } = best
  return selector
}

/** Flips of the rest between frames of one value, against those between neighbours; null where nothing flips. */
function flipRatio(
  { data, stride, bytes, count }: Message,
  byte: number,
  mask: number,
  low: number,
  without: Uint8Array,
): number | null {
  const last = new Int32Array(256).fill(-1)
  let near = 0
  let own = 0
  for (let i = 0; i < count; i++) {
    const at = i * stride
    const value = (data[at + byte]! & mask) >> low
    const earlier = last[value]!
    last[value] = i
    if (earlier < 0 || i === 0) continue
    near += flipped(data, at, at - stride, bytes, without, byte, mask)
    own += flipped(data, at, earlier * stride, bytes, without, byte, mask)
  }
  return near === 0 ? null : own / near
}

/**
 * Frames of a burst carry numbers of one moment, more alike than those of one selector value; but each value has its own
 * step from the frame before, the same each time round. Variance between the values' mean steps against that within,
 * by byte.
 */
function contentsDiffer(
  { data, stride, bytes }: Message,
  rows: number,
  byte: number,
  mask: number,
  low: number,
  values: readonly number[],
  without: Uint8Array,
): boolean {
  const index = new Map(values.map((value, at) => [value, at]))
  const groups = values.length
  for (let k = 0; k < bytes; k++) {
    if (k === byte || without[k] === 0xff) continue
    const sum = new Float64Array(groups)
    const count = new Float64Array(groups)
    let squares = 0
    let total = 0
    let all = 0
    for (let i = 1; i < rows; i++) {
      const step = ((data[i * stride + k]! - data[(i - 1) * stride + k]! + 384) & 255) - 128
      if (Math.abs(step) > 48) continue
      const group = index.get((data[i * stride + byte]! & mask) >> low)!
      sum[group]! += step
      count[group]!++
      squares += step * step
      total += step
      all++
    }
    if (all < 5 * groups) continue
    let between = -(total * total) / all
    for (let g = 0; g < groups; g++) if (count[g]! > 0) between += (sum[g]! * sum[g]!) / count[g]!
    const within = squares - (total * total) / all - between
    if (!(within > 0)) continue
    const f = between / (groups - 1) / (within / (all - groups))
    // far beyond what chance gives with so many groups
    if (f > 3 + 12 * Math.sqrt(2 / (groups - 1))) return true
  }
  return false
}

/** Rows whose value is followed by the value that most often follows it. */
function commonest(next: ReadonlyMap<number, number>): number {
  const most = new Map<number, number>()
  for (const [pair, count] of next) {
    const from = Math.floor(pair / 256)
    most.set(from, Math.max(most.get(from) ?? 0, count))
  }
  let sum = 0
  for (const count of most.values()) sum += count
  return sum
}

/** Blocks are enough: contents come round again and again, but the first ones may all stand still. */
const BLOCKS = 4
const BLOCK = 1500

function stretches(message: Message): Message {
  const { count, stride, data, timeS } = message
  if (count <= BLOCKS * BLOCK) return message
  const rows = new Uint8Array(BLOCKS * BLOCK * stride)
  for (let block = 0; block < BLOCKS; block++) {
    const from = Math.floor(((count - BLOCK) * block) / (BLOCKS - 1))
    rows.set(data.subarray(from * stride, (from + BLOCK) * stride), block * BLOCK * stride)
  }
  return { ...message, count: BLOCKS * BLOCK, data: rows, timeS: timeS.subarray(0, BLOCKS * BLOCK) }
}

/** [lowest bit, length] within a byte. */
const PARTS: readonly (readonly [number, number])[] = [
  [0, 8],
  [0, 4],
  [4, 4],
  [0, 2],
  [0, 3],
  [0, 5],
  [0, 6],
  [6, 2],
  [5, 3],
  [3, 5],
]

function flipped(
  data: Uint8Array,
  at: number,
  other: number,
  bytes: number,
  without: Uint8Array,
  byte: number,
  mask: number,
): number {
  let sum = 0
  for (let k = 0; k < bytes; k++) {
    let change = (data[at + k]! ^ data[other + k]!) & ~without[k]!
    if (k === byte) change &= ~mask
    sum += BITS[change & 255]!
  }
  return sum
}

const BITS = Uint8Array.from({ length: 256 }, (_, value) => {
  let n = 0
  for (let b = 0; b < 8; b++) n += (value >> b) & 1
  return n
})
