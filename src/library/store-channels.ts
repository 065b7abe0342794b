import { closeSync, mkdirSync, openSync, writeFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import type { Channel, Drive } from '../../shared/drive.ts'
import { BLOCK, buildPyramid, levelSizes } from '../math/min-max-pyramid.ts'
import { samplePeriod } from '../samples/on-one-clock.ts'
import type { Base, ChannelHeader, StoredChannel } from './channel-header.ts'

const bytesOf = (array: Float32Array | Float64Array | Uint8Array) =>
  new Uint8Array(array.buffer, array.byteOffset, array.byteLength)

/**
 * Writes every channel of a drive into `dir` as raw little-endian typed arrays with its pyramid, and the header
 * last. Samples are Float32 only where that is finer than a thousandth of the channel's own step; else Float64.
 */
export function storeChannels(dir: string, drive: Pick<Drive, 'channels'>): ChannelHeader {
  for (const sub of ['time', 'values', 'pyramid', 'fresh']) mkdirSync(join(dir, sub), { recursive: true })
  const bases: Base[] = []
  const baseOf = new Map<Float64Array, number>()
  const channels: StoredChannel[] = []
  for (const channel of drive.channels.values()) {
    let base = baseOf.get(channel.timeS)
    if (base === undefined) {
      base = bases.length
      baseOf.set(channel.timeS, base)
      bases.push(storeTime(join(dir, 'time', `${base + 1}.f64`), channel.timeS))
    }
    const stored = fitsFloat32(channel) ? 'f32' : 'f64'
    const number = channels.length + 1
    const values = stored === 'f32' ? Float32Array.from(channel.values) : channel.values
    writeFileSync(join(dir, 'values', `${number}.${stored}`), bytesOf(values))
    writeFileSync(join(dir, 'pyramid', `${number}.f32`), bytesOf(buildPyramid(channel.values)))
    if (channel.fresh) writeFileSync(join(dir, 'fresh', `${number}.u8`), bytesOf(channel.fresh))
    channels.push({
      id: channel.id,
      unit: channel.unit,
      base,
      stored,
      samples: channel.values.length,
      labels: channel.labels === null ? null : [...channel.labels],
      file: channel.file,
      from: channel.from,
      step: channel.step,
      polarity: channel.polarity,
      fresh: channel.fresh !== null,
    })
  }
  const header: ChannelHeader = { version: 1, bases, channels }
  writeFileSync(join(dir, 'channels.json'), JSON.stringify(header))
  return header
}

/** Raw times, then the first time of each block of 8, of 64 … : one entry a block of the pyramid. */
function storeTime(path: string, timeS: Float64Array): Base {
  const file = openSync(path, 'w')
  writeSync(file, bytesOf(timeS))
  let stride = 1
  for (const size of levelSizes(timeS.length)) {
    stride *= BLOCK
    const level = new Float64Array(size)
    for (let i = 0; i < size; i++) level[i] = timeS[i * stride]!
    writeSync(file, bytesOf(level))
  }
  closeSync(file)
  return { samples: timeS.length, gaps_after: breaks(timeS), period_s: samplePeriod(timeS) || 0 }
}

/**
 * Samples followed by silence: over 5 typical periods and over a second. A channel that is silent that often is
 * sent on change, not by the clock, and has no breaks.
 */
export function breaks(timeS: Float64Array): number[] {
  const period = samplePeriod(timeS)
  const longS = Math.max(1, 5 * (period > 0 ? period : 1))
  const found: number[] = []
  for (let i = 1; i < timeS.length; i++) if (timeS[i]! - timeS[i - 1]! > longS) found.push(i - 1)
  return found.length > timeS.length / 20 ? [] : found
}

function fitsFloat32(channel: Channel): boolean {
  if (!(channel.step > 0)) return false
  let largest = 0
  for (const value of channel.values) {
    const size = Math.abs(value)
    if (size > largest) largest = size
  }
  return largest * 2 ** -24 < channel.step / 1000
}
