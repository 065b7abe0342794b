import { channelLabel } from '../../shared/channels.ts'
import type { Channel, Drive } from '../../shared/drive.ts'
import { numberText } from '../../shared/wording.ts'
import { median, robustSpread } from '../math/stats.ts'
import { linearAt, samplePeriod } from './on-one-clock.ts'

/**
 * Of several readings of one channel the better one: more believable fresh samples; where that is alike (within twice
 * as many), the finer resolution. The others become spares, so that nothing is lost.
 */
export function bestOfEach(all: Iterable<Channel>): { channels: Map<string, Channel>; spares: Channel[] } {
  const channels = new Map<string, Channel>()
  const spares: Channel[] = []
  for (const channel of all) {
    const other = channels.get(channel.id)
    if (!other) channels.set(channel.id, channel)
    else if (isBetter(channel, other)) {
      spares.push(other)
      channels.set(channel.id, channel)
    } else spares.push(channel)
  }
  return { channels, spares }
}

function isBetter(one: Channel, other: Channel): boolean {
  const [samples, others] = [believable(one), believable(other)]
  const alike = samples < 2 * others && others < 2 * samples
  if (alike && one.step > 0 && other.step > 0 && one.step !== other.step) return one.step < other.step
  return samples > others
}

function believable({ values, fresh }: Channel): number {
  let count = 0
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]) && (!fresh || fresh[i])) count++
  return count
}

/**
 * What two readings of one quantity differ by: a sentence a pair of files and family of channels, for the review's
 * assumptions. Difference: the spare's samples less the used channel between its own, median and robust spread.
 */
export function spareSentences(drive: Drive): string[] {
  const families = new Map<string, { spare: Channel; used: Channel; offset: number; spread: number }[]>()
  for (const spare of drive.spares) {
    const used = drive.channels.get(spare.id)
    if (!used || spare.labels || used.labels) continue
    const name = `${spare.id.replace(/\.\d+$/, '')}|${spare.file}|${used.file}`
    const at = linearAt(used, spare.timeS, Math.max(1, 5 * samplePeriod(used.timeS)))
    const gaps = spare.values.map((value, i) => value - at[i]!)
    const found = { spare, used, offset: median(gaps), spread: robustSpread(gaps) }
    families.set(name, [...(families.get(name) ?? []), found])
  }
  return [...families.values()].map((all) => {
    const [{ spare, used }] = all as [(typeof all)[number]]
    const what =
      all.length > 1 ? `${all.length} channels like ${channelLabel(used.id)}` : channelLabel(used.id)
    const several = all.length > 1
    const [its, other] = spare.file === used.file ? [used.from, spare.from] : [used.file, spare.file]
    const apart = all.filter((each) => Number.isFinite(each.offset))
    const most = apart.sort((a, b) => Math.abs(b.offset) - Math.abs(a.offset))[0]
    const unit = used.unit === '' ? '' : ` ${used.unit}`
    const differ = most
      ? `they differ by ${several ? 'up to ' : ''}${numberText(most.offset)}${unit} (median; spread ${numberText(most.spread)}${unit})`
      : 'they share no time in which they could be compared'
    return `${what} ${several ? 'are' : 'is'} logged twice; ${its} (${rateText(used)}) is used, not ${other} (${rateText(spare)}); ${differ}.`
  })
}

function rateText({ timeS }: Channel): string {
  const period = samplePeriod(timeS)
  return period > 0 ? `${numberText(1 / period)} samples a second` : `${timeS.length} samples`
}
