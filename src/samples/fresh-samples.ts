import type { Channel } from '../../shared/drive.ts'

/** The samples that were read anew, without held repeats; the channel's own arrays where every sample is new. */
export function freshSamples(channel: Channel): { timeS: Float64Array; values: Float64Array } {
  const { fresh } = channel
  if (!fresh) return channel
  const keep = (_: number, i: number): boolean => fresh[i] === 1
  return { timeS: channel.timeS.filter(keep), values: channel.values.filter(keep) }
}
