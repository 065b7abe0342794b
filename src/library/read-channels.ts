import { closeSync, openSync, readFileSync, readSync } from 'node:fs'
import { join } from 'node:path'
import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import { LogError } from '../errors.ts'
import { BLOCK, buildPyramid, levelSizes, levelStart } from '../math/min-max-pyramid.ts'
import { type ChannelHeader, channelHeaderSchema, type StoredChannel } from './channel-header.ts'

/** Points ready to draw: NaN in `values` breaks the line. */
export interface Points {
  readonly timeS: Float64Array
  readonly values: Float32Array
  /** True where a point stands for a bucket's lowest or highest value. */
  readonly thinned: boolean
}

/** A stored drive's samples: reads slices, never whole files unless asked. Close it when done. */
export class ChannelReader {
  readonly header: ChannelHeader
  /** The reading of the drive that it reads from. */
  readonly dir: string
  readonly #byId: ReadonlyMap<string, number>
  readonly #open = new Map<string, number>()
  /** Pyramids made again, by the channel's number. */
  readonly #made = new Map<number, Float32Array>()

  constructor(dir: string) {
    this.dir = dir
    this.header = channelHeaderSchema.parse(JSON.parse(readFileSync(join(dir, 'channels.json'), 'utf8')))
    this.#byId = new Map(this.header.channels.map((channel, at) => [channel.id, at]))
  }

  close(): void {
    for (const file of this.#open.values()) closeSync(file)
    this.#open.clear()
  }

  has(id: string): boolean {
    return this.#byId.has(id)
  }

  stored(id: string): StoredChannel | undefined {
    const at = this.#byId.get(id)
    return at === undefined ? undefined : this.header.channels[at]
  }

  /** Half-open range of samples within the span, widened by one sample on either side so that lines reach the edge. */
  range(id: string, [from, to]: Span): readonly [number, number] {
    const { base, samples } = this.stored(id)!
    return [Math.max(0, this.#firstAfter(base, from) - 1), Math.min(samples, this.#firstAfter(base, to) + 1)]
  }

  times(id: string, from: number, to: number): Float64Array {
    return this.#slice64(`time/${this.stored(id)!.base + 1}.f64`, from, to)
  }

  values(id: string, from: number, to: number): Float32Array | Float64Array {
    const number = this.#byId.get(id)! + 1
    const { stored } = this.stored(id)!
    return stored === 'f32'
      ? this.#slice32(`values/${number}.f32`, from, to)
      : this.#slice64(`values/${number}.f64`, from, to)
  }

  /** The last values at or before `atS`; null where there is none, where it is NaN, or in a silence. */
  valuesAt(ids: readonly string[], atS: number): (number | null)[] {
    const found = new Map<number, number | null>()
    return ids.map((id) => {
      const { base } = this.stored(id)!
      let at = found.get(base)
      if (at === undefined) {
        at = this.#sampleAt(base, atS)
        found.set(base, at)
      }
      if (at === null) return null
      const value = this.values(id, at, at + 1)[0]!
      return Number.isNaN(value) ? null : value
    })
  }

  /** The samples of a span as points, at most about 2 · `buckets` of them; every extreme is among them. */
  points(id: string, span: Span, buckets: number): Points {
    const stored = this.stored(id)!
    const [from, to] = this.range(id, span)
    const count = to - from
    const gaps = this.header.bases[stored.base]!.gaps_after.filter((i) => i >= from && i < to - 1)
    if (count <= 2 * buckets || count < 64)
      return {
        ...withBreaks(this.times(id, from, to), this.values(id, from, to), from, gaps),
        thinned: false,
      }
    return this.#thinned(id, stored, from, to, buckets, gaps)
  }

  /** One whole channel, as the analyses want it. */
  channel(id: string): Channel {
    const stored = this.stored(id)!
    const number = this.#byId.get(id)! + 1
    const values = this.values(id, 0, stored.samples)
    return {
      id,
      unit: stored.unit,
      timeS: this.times(id, 0, stored.samples),
      values: values instanceof Float64Array ? values : Float64Array.from(values),
      fresh: stored.fresh ? new Uint8Array(this.#bytes(`fresh/${number}.u8`, 0, stored.samples)) : null,
      labels: stored.labels,
      file: stored.file,
      from: stored.from,
      step: stored.step,
      polarity: stored.polarity,
    }
  }

  /**
   * Buckets snapped to blocks of the coarsest level that still has a block a bucket:
   *
   *     samples   ....|........|........|........|..     bucket = some whole blocks; edges of the window widen
   *     points        lo hi    lo hi    lo hi            to whole blocks: under one bucket, off screen
   */
  #thinned(
    id: string,
    { base, samples }: StoredChannel,
    from: number,
    to: number,
    buckets: number,
    gaps: readonly number[],
  ): Points {
    const sizes = levelSizes(samples)
    let level = 0
    while (level < sizes.length && (to - from) / BLOCK ** (level + 1) >= buckets) level++
    level = Math.max(1, level)
    const blockLength = BLOCK ** level
    const first = Math.floor(from / blockLength)
    const last = Math.min(sizes[level - 1]!, Math.ceil(to / blockLength))
    const number = this.#byId.get(id)! + 1
    const start = levelStart(sizes, level)
    const pairs = this.#pairs(id, number, 2 * (start + first), 2 * (start + last))
    const times = this.#slice64(`time/${base + 1}.f64`, samples + start + first, samples + start + last)
    const perBucket = Math.max(1, Math.round((last - first) / buckets))
    const endS = this.#slice64(`time/${base + 1}.f64`, samples - 1, samples)[0]!
    const timeS: number[] = []
    const values: number[] = []
    const gapBlocks = new Set(gaps.map((i) => Math.floor(i / blockLength) - first))
    for (let block = 0; block < times.length; ) {
      let lo = Number.POSITIVE_INFINITY
      let hi = Number.NEGATIVE_INFINITY
      const startS = times[block]!
      let broken = false
      const end = Math.min(block + perBucket, times.length)
      for (; block < end; block++) {
        const low = pairs[2 * block]!
        const high = pairs[2 * block + 1]!
        if (low < lo) lo = low
        if (high > hi) hi = high
        if (gapBlocks.has(block)) {
          broken = true
          block++
          break
        }
      }
      const nextS = times[block] ?? endS
      timeS.push(startS)
      values.push(lo <= hi ? lo : Number.NaN)
      if (broken) {
        // The bucket holds the last samples before the silence and the first after it: draw both at its ends.
        timeS.push(startS, startS, nextS)
        values.push(lo <= hi ? hi : Number.NaN, Number.NaN, lo <= hi ? hi : Number.NaN)
      } else {
        timeS.push(startS + (nextS - startS) / 2)
        values.push(lo <= hi ? hi : Number.NaN)
      }
    }
    return { timeS: Float64Array.from(timeS), values: Float32Array.from(values), thinned: true }
  }

  /** Lowest and highest of blocks; where the file of them is lost or cut, they are made again from the samples. */
  #pairs(id: string, number: number, from: number, to: number): Float32Array {
    const made = this.#made.get(number)
    if (made) return made.subarray(from, to)
    try {
      return this.#slice32(`pyramid/${number}.f32`, from, to)
    } catch (error) {
      if (!(error instanceof LogError)) throw error
      const again = buildPyramid(this.values(id, 0, this.stored(id)!.samples))
      this.#made.set(number, again)
      return again.subarray(from, to)
    }
  }

  /** Index of the last sample at or before `atS`; null before the first and in a silence. */
  #sampleAt(base: number, atS: number): number | null {
    const after = this.#firstAfter(base, atS)
    if (after === 0) return null
    const { gaps_after, period_s } = this.header.bases[base]!
    if (!gaps_after.includes(after - 1)) return after - 1
    const age = atS - this.#slice64(`time/${base + 1}.f64`, after - 1, after)[0]!
    return age > 5 * period_s ? null : after - 1
  }

  /** Index of the first sample later than `atS`: binary search on the file, a few dozen small reads. */
  #firstAfter(base: number, atS: number): number {
    let low = 0
    let high = this.header.bases[base]!.samples
    while (low < high) {
      const middle = (low + high) >>> 1
      if (this.#slice64(`time/${base + 1}.f64`, middle, middle + 1)[0]! > atS) high = middle
      else low = middle + 1
    }
    return low
  }

  #slice64(name: string, from: number, to: number): Float64Array {
    return new Float64Array(this.#bytes(name, from * 8, to * 8))
  }

  #slice32(name: string, from: number, to: number): Float32Array {
    return new Float32Array(this.#bytes(name, from * 4, to * 4))
  }

  #bytes(name: string, from: number, to: number): ArrayBuffer {
    let file = this.#open.get(name)
    if (file === undefined) {
      try {
        file = openSync(join(this.dir, name), 'r')
      } catch {
        throw new LogError(
          'damaged-drive',
          'Samples of this drive are missing. Review it again: they are made from its logs.',
        )
      }
      this.#open.set(name, file)
    }
    const bytes = new Uint8Array(Math.max(0, to - from))
    let done = 0
    while (done < bytes.length) {
      const read = readSync(file, bytes, done, bytes.length - done, from + done)
      if (read === 0)
        throw new LogError(
          'damaged-drive',
          'The samples of this drive end too early. Review it again: they are made from its logs.',
        )
      done += read
    }
    return bytes.buffer
  }
}

/** Raw samples with a NaN point after each sample that silence follows. */
function withBreaks(
  times: Float64Array,
  samples: ArrayLike<number>,
  from: number,
  gaps: readonly number[],
): { timeS: Float64Array; values: Float32Array } {
  if (gaps.length === 0) return { timeS: times, values: Float32Array.from(samples) }
  const silentAfter = new Set(gaps.map((i) => i - from))
  const timeS: number[] = []
  const values: number[] = []
  for (let i = 0; i < times.length; i++) {
    timeS.push(times[i]!)
    values.push(samples[i]!)
    if (silentAfter.has(i)) {
      timeS.push(times[i]!)
      values.push(Number.NaN)
    }
  }
  return { timeS: Float64Array.from(timeS), values: Float32Array.from(values) }
}
