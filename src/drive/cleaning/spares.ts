import { channelLabel } from '../../../shared/channels.ts'
import { type Channel, channelNamed, type Drive } from '../../../shared/drive.ts'
import { numberText } from '../../../shared/wording.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { linearAt, samplePeriod } from '../../samples/on-one-clock.ts'

/**
 * Of several readings of one channel the better one: more believable fresh samples; where that is alike (within twice
 * as many), the finer resolution. The others become spares, so that nothing is lost. Readings that follow one another
 * (a recorder that began a new file) are joined, but none on two clocks.
 */
export function bestOfEach(
  all: Iterable<Channel>,
  clockOf: (file: string) => string | undefined = () => undefined,
): { channels: Map<string, Channel>; spares: Channel[] } {
  const readings = new Map<string, Channel[]>()
  for (const channel of all) readings.set(channel.id, [...(readings.get(channel.id) ?? []), channel])
  const join = joiner()
  const channels = new Map<string, Channel>()
  const spares: Channel[] = []
  for (const [id, several] of readings) {
    let best = several.reduce((chosen, each) => (isBetter(each, chosen) ? each : chosen))
    for (const other of several.filter((each) => each !== best)) {
      const joined = clockOf(best.file) === clockOf(other.file) ? join(best, other) : null
      if (joined) best = joined
      else spares.push(other)
    }
    channels.set(id, best)
  }
  return { channels, spares }
}

/** Joins two readings of which one ends before the other begins; null where they overlap or are written otherwise. */
function joiner(): (a: Channel, b: Channel) => Channel | null {
  // channels read together keep sharing one time array
  const joinedTimes = new Map<Float64Array, Map<Float64Array, Float64Array>>()
  return (a, b) => {
    const [first, second] = (a.timeS[0] ?? 0) <= (b.timeS[0] ?? 0) ? [a, b] : [b, a]
    if (first.timeS.length === 0 || second.timeS.length === 0 || first.file === second.file) return null
    if (first.timeS[first.timeS.length - 1]! >= second.timeS[0]!) return null
    if (first.unit !== second.unit || first.labels?.join('|') !== second.labels?.join('|')) return null
    const known = joinedTimes.get(first.timeS) ?? new Map<Float64Array, Float64Array>()
    joinedTimes.set(first.timeS, known)
    const timeS = known.get(second.timeS) ?? inTurn(first.timeS, second.timeS)
    known.set(second.timeS, timeS)
    const fresh = (each: Channel): Uint8Array => each.fresh ?? new Uint8Array(each.timeS.length).fill(1)
    return {
      ...first,
      timeS,
      values: inTurn(first.values, second.values),
      fresh: first.fresh || second.fresh ? Uint8Array.from([...fresh(first), ...fresh(second)]) : null,
      step: Math.min(first.step || second.step, second.step || first.step),
    }
  }
}

function inTurn(first: Float64Array, second: Float64Array): Float64Array {
  const both = new Float64Array(first.length + second.length)
  both.set(first)
  both.set(second, first.length)
  return both
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
  const clockOf = new Map(drive.files.map(({ name, clock }) => [name, clock.own]))
  const families = new Map<string, { spare: Channel; used: Channel; offset: number; spread: number }[]>()
  for (const spare of drive.spares) {
    const used = channelNamed(drive.channels, spare.id)
    // on two clocks neither is used in place of the other: each log is read by itself
    const apart = clockOf.get(spare.file) !== clockOf.get(used?.file ?? '')
    if (!used || apart || spare.labels || used.labels) continue
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
