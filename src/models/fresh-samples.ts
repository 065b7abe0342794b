import type { Channel } from '../../shared/drive.ts'
import type { Samples } from '../drive/on-one-clock.ts'

/** A channel without the rows that only repeated its last value; the channel itself where every sample is new. */
export function freshSamples(channel: Channel): Samples {
  const { fresh, timeS, values } = channel
  if (!fresh?.includes(0)) return channel
  return {
    timeS: timeS.filter((_, i) => fresh[i] === 1),
    values: values.filter((_, i) => fresh[i] === 1),
  }
}
