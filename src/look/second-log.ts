import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel, Drive } from '../../shared/drive.ts'
import { bestAssignment } from '../math/assignment.ts'
import type { Candidate } from './candidates.ts'
import { clockOfLog, type LogClock } from './clock-of-log.ts'
import { familiesOf, matchFamily } from './family-match.ts'
import { longestGap, onGrid, POINTS } from './grid.ts'
import type { Proposal } from './proposal.ts'
import { type ScaledFit, scaledFit } from './scaled-fit.ts'

/** Correlation below which a pair is not looked at more closely; fit below which a pair is no proposal. */
const LEAST_R2 = 0.6
const LEAST_SCORE = 1
/** Channels that say where, not what: codes and counts of others' making. */
const LEFT_OUT = /_number$|_faults$|_state$|odometer/

export interface LogMatch {
  readonly clock: LogClock | null
  readonly proposals: readonly Proposal[]
}

/**
 * Which numbers of the bus move like channels of another log of the same drive?
 *
 * Model:  channel = factor · raw + offset, factor and offset round where the data let them be.
 * Reads:  every number channel of the drive.
 * Gives:  proposals, each number and channel once (best assignment over all pairs).
 * Blind:  what stands still; two channels that move alike to within their noise (said under `otherwise`).
 * Biased by: clocks more than 50 ms apart after alignment, for what moves fast.
 */
export function matchWithLog(candidates: readonly Candidate[], drive: Drive): LogMatch {
  const channels = [...drive.channels.values()].filter(
    (each) => catalogueEntry(each.id)?.kind === 'number' && !LEFT_OUT.test(each.id) && each.labels === null,
  )
  const clock = clockOfLog(candidates, channels)
  if (!clock) return { clock, proposals: [] }
  const span = overlap(candidates, channels, clock.offsetS)
  if (!span) return { clock, proposals: [] }
  const grids = channels.map((each) =>
    onGrid(each.timeS, each.values, span[0], span[1], POINTS, longestGap(each.timeS)),
  )
  const raws = candidates.map((each) =>
    onGrid(
      each.timeS,
      each.raw,
      span[0] - clock.offsetS,
      span[1] - clock.offsetS,
      POINTS,
      longestGap(each.timeS),
    ),
  )
  const families = familiesOf(channels, grids)
  const singles = channels.flatMap((channel, r) =>
    families.some((family) => family.members.some((member) => member.channel === channel)) ? [] : [r],
  )
  const fits = candidates.map((candidate, c) =>
    singles.map((r) => {
      const fit = scaledFit(raws[c]!, grids[r]!, channels[r]!, candidate.place.length, LEAST_R2)
      return fit && fit.score > LEAST_SCORE ? fit : null
    }),
  )
  // a number that is the best there is for a channel of its own is left to it
  const best = new Float64Array(candidates.length)
  singles.forEach((_, r) => {
    let top = -1
    fits.forEach((row, c) => {
      if (row[r] && (top < 0 || row[r]!.score > fits[top]![r]!.score)) top = c
    })
    if (top >= 0) best[top] = Math.max(best[top]!, fits[top]![r]!.score)
  })
  const taken = new Set<string>()
  const proposals = families.flatMap((family) => {
    const found = matchFamily(family, candidates, raws, best, LEAST_R2)
    for (const each of found) taken.add(each.candidate.spot)
    return found
  })
  const left = candidates.flatMap(({ spot }, c) => (taken.has(spot) ? [] : [c]))
  return {
    clock,
    proposals: [
      ...proposals,
      ...assigned(
        left.map((c) => candidates[c]!),
        singles.map((r) => channels[r]!),
        left.map((c) => fits[c]!),
      ),
    ],
  }
}

function overlap(
  candidates: readonly Candidate[],
  channels: readonly Channel[],
  offsetS: number,
): readonly [number, number] | null {
  let from = Number.POSITIVE_INFINITY
  let to = Number.NEGATIVE_INFINITY
  for (const { timeS } of candidates) {
    from = Math.min(from, timeS[0]! + offsetS)
    to = Math.max(to, timeS[timeS.length - 1]! + offsetS)
  }
  let refFrom = Number.POSITIVE_INFINITY
  let refTo = Number.NEGATIVE_INFINITY
  for (const { timeS } of channels) {
    if (timeS.length === 0) continue
    refFrom = Math.min(refFrom, timeS[0]!)
    refTo = Math.max(refTo, timeS[timeS.length - 1]!)
  }
  const span = [Math.max(from, refFrom), Math.min(to, refTo)] as const
  return span[1] - span[0] > 10 ? span : null
}

type Fits = readonly (readonly (ScaledFit | null)[])[]

/** Each spot and each channel once; sureness by fit, round scale and how far the next best is. */
function assigned(candidates: readonly Candidate[], channels: readonly Channel[], fits: Fits): Proposal[] {
  const spots = [...new Set(candidates.map((each) => each.spot))]
  const bySpot = spots.map((spot) => candidates.flatMap((each, c) => (each.spot === spot ? [c] : [])))
  const best = (own: readonly number[], r: number): number =>
    own.reduce((top, c) => ((fits[c]![r]?.score ?? 0) > (top < 0 ? 0 : fits[top]![r]!.score) ? c : top), -1)
  const chosen = bySpot.map((own) => channels.map((_, r) => best(own, r)))
  const scores = chosen.map((row) => row.map((c, r) => (c < 0 ? 0 : fits[c]![r]!.score)))
  return bestAssignment(scores).flatMap((r, s): Proposal[] => {
    if (r < 0) return []
    const c = chosen[s]![r]!
    const fit = fits[c]![r]!
    const rival = nextBest(scores, s, r)
    const margin = fit.score - rival.score
    const other = bySpot[s]!.filter((each) => each !== c && fits[each]![r])
    const reading = Math.min(1, ...other.map((each) => fit.score - fits[each]![r]!.score))
    return [
      {
        candidate: candidates[c]!,
        channel: channels[r]!.id,
        factor: fit.factor,
        offset: fit.offset,
        sureness: surenessOf(fit, margin, reading),
        from: 'second log',
        why: `moves as ${channels[r]!.id} of ${channels[r]!.file} does: what is left is ${(100 * fit.left).toPrecision(2)} % of its movement`,
        otherwise: margin < 0.7 && rival.channel >= 0 ? channels[rival.channel]!.id : null,
      },
    ]
  })
}

/** The best score of the same number with another channel, or of the same channel with another number. */
function nextBest(
  scores: readonly (readonly number[])[],
  s: number,
  r: number,
): { readonly score: number; readonly channel: number } {
  let score = 0
  let channel = -1
  scores[s]!.forEach((each, other) => {
    if (other === r || each <= score) return
    score = each
    channel = other
  })
  scores.forEach((row, other) => {
    if (other === s || row[r]! <= score) return
    score = row[r]!
    channel = r
  })
  return { score, channel }
}

/** study:look, 27 November 2026, both models: no wrong proposal above 0.9. */
function surenessOf(fit: ScaledFit, margin: number, reading: number): number {
  const close = 1 - Math.min(1, fit.left * 2)
  const apart = 1 - Math.exp(-Math.max(0, margin) * 3)
  const read = reading < 0.05 ? 0.7 : 1
  return Math.max(0.05, (0.35 + 0.64 * apart) * (0.5 + 0.5 * close) * fit.certainty * read)
}
