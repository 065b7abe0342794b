import type { Channel } from '../../shared/drive.ts'

/** The samples that were read anew, without held repeats; the channel's own arrays where every sample is new. */
export function freshSamples(channel: Channel): { timeS: Float64Array; values: Float64Array } {
  const { fresh } = channel
  if (!fresh) return channel
  let count = 0
  for (let i = 0; i < fresh.length; i++) if (fresh[i] === 1) count++
  const timeS = new Float64Array(count)
  const values = new Float64Array(count)
  for (let i = 0, at = 0; i < fresh.length; i++) {
    if (fresh[i] !== 1) continue
    timeS[at] = channel.timeS[i]!
    values[at++] = channel.values[i]!
  }
  return { timeS, values }
}
