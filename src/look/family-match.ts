import { channelNumber } from '../../shared/channels.ts'
import type { Channel } from '../../shared/drive.ts'
import { median } from '../math/stats.ts'
import type { Candidate } from './candidates.ts'
import type { Proposal } from './proposal.ts'
import { bitsOf } from './raw-values.ts'
import { type ScaledFit, scaledFit } from './scaled-fit.ts'

/** Numbered channels of another log that move nearly alike: cells, sensors of modules. */
export interface Family {
  readonly name: string
  readonly members: readonly { readonly channel: Channel; readonly grid: Float64Array }[]
  readonly mean: Float64Array
}

const LEAST_MEMBERS = 3
/** ln of how much further from the family's mean a member may lie than usual. */
const NEAR = Math.log(3.5)

/** What a number must score with a channel of its own to be left to it. */
const leaves = (fit: ScaledFit | null | undefined): number => (fit?.score ?? 1) + 0.3

export function familiesOf(channels: readonly Channel[], grids: readonly Float64Array[]): Family[] {
  const byName = new Map<string, { channel: Channel; grid: Float64Array }[]>()
  channels.forEach((channel, r) => {
    if (channelNumber(channel.id) === 0) return
    const name = channel.id.slice(0, channel.id.lastIndexOf('.'))
    byName.set(name, [...(byName.get(name) ?? []), { channel, grid: grids[r]! }])
  })
  return [...byName]
    .filter(([, members]) => members.length >= LEAST_MEMBERS)
    .map(([name, members]) => {
      members.sort((a, b) => channelNumber(a.channel.id) - channelNumber(b.channel.id))
      return { name, members, mean: meanOf(members.map((each) => each.grid)) }
    })
}

function meanOf(grids: readonly Float64Array[]): Float64Array {
  return grids[0]!.map((_, p) => {
    let sum = 0
    let n = 0
    for (const grid of grids)
      if (Number.isFinite(grid[p]!)) {
        sum += grid[p]!
        n++
      }
    return n > 0 ? sum / n : Number.NaN
  })
}

/**
 * Which numbers are the family's, and which is which? All must have one scale; then each is held against each member. The
 * bus usually sends them in order: the order is kept unless the data speak clearly against it.
 * @param best score of each candidate that is the best of all for a channel outside the family, else 0
 */
export function matchFamily(
  family: Family,
  candidates: readonly Candidate[],
  raws: readonly Float64Array[],
  best: Float64Array,
  leastR2: number,
): Proposal[] {
  const channel = family.members[0]!.channel
  const fits = candidates.map((candidate, c) => {
    const fit = scaledFit(raws[c]!, family.mean, channel, candidate.place.length, leastR2)
    return fit && fit.score > 1 && fit.score + 0.3 > best[c]! ? fit : null
  })
  const scale = commonScale(candidates, fits)
  if (!scale) return []
  const model = candidates.findIndex((candidate, c) => fits[c] && scaleText(candidate, fits[c]) === scale)
  const { factor, offset, certainty } = fits[model]!
  const form = candidates[model]!.place
  // of that form and scale, as near to the family as those that fit by themselves; in the order in which the bus sends them
  const off = candidates.map((_, c) => logOff(raws[c]!, family.mean, factor, offset))
  const usual = median(off.filter((_, c) => fits[c] && scaleText(candidates[c]!, fits[c]!) === scale))
  const seen = new Set<string>()
  const own = candidates
    .flatMap(({ place }, c) =>
      place.length === form.length &&
      place.byteOrder === form.byteOrder &&
      off[c]! < usual + NEAR &&
      best[c]! < leaves(fits[c])
        ? [c]
        : [],
    )
    .filter((c) => !seen.has(candidates[c]!.spot) && seen.add(candidates[c]!.spot))
    .sort((a, b) => inOrder(candidates[a]!, candidates[b]!))
  if (own.length < Math.min(LEAST_MEMBERS, family.members.length / 2)) return []
  const logs = own.map((c) => family.members.map((member) => logOff(raws[c]!, member.grid, factor, offset)))
  const pairs = alignedInOrder(logs)
  const tells = orderTells(logs, pairs)
  return pairs.map(([i, j]): Proposal => {
    const c = own[i]!
    const whole = own.length === family.members.length
    const order = tells > 4 ? 0.95 : tells > 2 ? 0.85 : whole ? 0.75 : 0.5
    return {
      candidate: candidates[c]!,
      channel: family.members[j]!.channel.id,
      factor,
      offset,
      sureness: Math.min(0.99, order * Math.sqrt(Math.max(certainty, 0.3)) * 1.05),
      from: 'second log',
      why: `${own.length} numbers of one form move as ${family.name} of ${channel.file} does; ${
        tells > 4 ? 'their levels follow its order' : 'taken in the order in which the bus sends them'
      }`,
      otherwise: tells > 4 ? null : `another of ${family.name}`,
    }
  })
}

/** Scale and form that most of the candidates share; null under three. */
function commonScale(candidates: readonly Candidate[], fits: readonly (ScaledFit | null)[]): string | null {
  const counts = new Map<string, number>()
  fits.forEach((fit, c) => {
    if (!fit) return
    const text = scaleText(candidates[c]!, fit)
    counts.set(text, (counts.get(text) ?? 0) + fit.certainty + 0.2)
  })
  const [top] = [...counts].sort((a, b) => b[1] - a[1])
  return top?.[0] ?? null
}

const scaleText = ({ place }: Candidate, { factor, offset }: ScaledFit): string =>
  `${factor}/${offset}/${place.length}/${place.byteOrder}`

/** Identifier, selector, then place as the bytes come. */
export function inOrder(a: Candidate, b: Candidate): number {
  return (
    (a.look.message.key >>> 0) - (b.look.message.key >>> 0) ||
    (a.content.value ?? 0) - (b.content.value ?? 0) ||
    Math.min(...bitsOf(a.place)) - Math.min(...bitsOf(b.place))
  )
}

/** Logarithm of the usual distance between number and channel. */
function logOff(raw: Float64Array, grid: Float64Array, factor: number, offset: number): number {
  let sum = 0
  let n = 0
  for (let p = 0; p < raw.length; p++) {
    const off = factor * raw[p]! + offset - grid[p]!
    if (!Number.isFinite(off)) continue
    sum += off * off
    n++
  }
  return n < 30 ? 10 : 0.5 * Math.log(sum / n + 1e-12)
}

const STEP_BONUS = 0.25

/** The pairs that rise together with the least distance: order kept, places may be left out on either side. */
function alignedInOrder(logs: readonly (readonly number[])[]): (readonly [number, number])[] {
  const n = logs.length
  const m = logs[0]!.length
  const worst = Math.max(...logs.flat())
  // total[i][j]: the best that ends with pair (i, j)
  const total = logs.map((row) => row.map((each) => worst - each + 0.5))
  const from = logs.map((row) => row.map(() => -1))
  const bestUpTo = new Float64Array(m + 1)
  const bestPlace = new Int32Array(m + 1).fill(-1)
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < m; j++) {
      const step = i > 0 && j > 0 ? total[i - 1]![j - 1]! + STEP_BONUS : 0
      const jump = j > 0 ? bestUpTo[j - 1]! : 0
      if (step > 0 && step >= jump) {
        total[i]![j]! += step
        from[i]![j] = (i - 1) * m + j - 1
      } else if (jump > 0) {
        total[i]![j]! += jump
        from[i]![j] = bestPlace[j - 1]!
      }
    }
    // only rows before this one may come before
    for (let j = 0; j < m; j++)
      if (total[i]![j]! > bestUpTo[j]!) {
        bestUpTo[j] = total[i]![j]!
        bestPlace[j] = i * m + j
      }
    for (let j = 1; j < m; j++)
      if (bestUpTo[j - 1]! > bestUpTo[j]!) {
        bestUpTo[j] = bestUpTo[j - 1]!
        bestPlace[j] = bestPlace[j - 1]!
      }
  }
  const pairs: [number, number][] = []
  for (let place = bestPlace[m - 1]!; place >= 0; ) {
    const i = Math.floor(place / m)
    const j = place % m
    pairs.unshift([i, j])
    place = from[i]![j]!
  }
  return pairs
}

/** Do the pairs lie closer than others of the same rows? Mean advantage in its own standard errors. */
function orderTells(
  logs: readonly (readonly number[])[],
  pairs: readonly (readonly [number, number])[],
): number {
  if (pairs.length < 3) return 0
  const gains = pairs.map(([i, j]) => {
    const others = logs[i]!.filter((_, other) => other !== j)
    return others.reduce((sum, each) => sum + each, 0) / others.length - logs[i]![j]!
  })
  const mean = gains.reduce((sum, each) => sum + each, 0) / gains.length
  const spread = Math.sqrt(gains.reduce((sum, each) => sum + (each - mean) ** 2, 0) / (gains.length - 1))
  return spread > 0 ? (mean / spread) * Math.sqrt(gains.length) : 0
}
