import type { ChannelId } from '../../../shared/channels.ts'
import type { Drive } from '../../../shared/drive.ts'
import { linearAt } from '../../../src/samples/on-one-clock.ts'
import { asDrive } from '../../simulator/as-drive.ts'
import type { Samples } from '../../simulator/measure.ts'
import type { Random } from '../../simulator/random.ts'
import type { Measured } from '../../simulator/simulate.ts'

/** A channel that a family lays over a simulated drive: its true course, and how a box reads it. */
export interface Laid {
  readonly id: string
  readonly rateHz: number
  readonly step?: number
  readonly noise?: number
  readonly offset?: number
  readonly gain?: number
  readonly at: (timeS: number) => number
}

/** The drive with further channels (or other ones in the place of its own), read by the same first box. */
export function withLaid(
  made: Measured,
  laid: readonly Laid[],
  random: Random,
  without: readonly string[] = [],
): Drive {
  const durationS = made.drive.durationS
  const box = made.boxes[0]!
  const own = new Set([...laid.map(({ id }) => id), ...without])
  const added = laid.map((each): Samples => {
    const noise = random.fork(each.id)
    const phase = noise.between(0, 1)
    const timeS = Float64Array.from(
      { length: Math.max(2, Math.floor(durationS * each.rateHz - phase)) },
      (_, i) => Math.round(((i + phase) / each.rateHz) * 1e4) / 1e4,
    )
    const step = each.step ?? 0
    const values = timeS.map((t) => {
      const value =
        each.at(t) * (1 + (each.gain ?? 0)) + (each.offset ?? 0) + (each.noise ?? 0) * noise.normal()
      return step > 0 ? Math.round(value / step) * step : value
    })
    return {
      id: each.id,
      reading: { channels: [each.id], rateHz: each.rateHz },
      box,
      timeS,
      values,
      fresh: null,
    }
  })
  return asDrive([...made.samples.filter(({ id }) => !own.has(id)), ...added], made.vehicle)
}

/** A channel of the drive as a function of time: between its samples, and held beyond its ends. */
export function courseOf(drive: Drive, id: ChannelId): ((timeS: number) => number) | null {
  const channel = drive.channels.get(id)
  if (!channel) return null
  return (timeS) => {
    const [at] = linearAt(channel, [timeS])
    if (Number.isFinite(at)) return at!
    return timeS <= channel.timeS[0]! ? channel.values[0]! : channel.values[channel.values.length - 1]!
  }
}
