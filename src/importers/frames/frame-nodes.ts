import type { BusSummary } from '../../../shared/drive.ts'
import type { Span } from '../../../shared/units.ts'
import { silences } from '../../math/silences.ts'
import { median } from '../../math/stats.ts'
import type { FrameGroup } from './frame-groups.ts'
import { identifierText } from './signal.ts'

/** Fewer frames show no usual period; no source. */
const FEWEST_FRAMES = 10

type NodeSummary = BusSummary['nodes'][number]

/** Silence: none of a node's frames for ten of its fastest period, and at least half a second. */
const SILENT_PERIODS = 10
const SILENT_S = 0.5
const MOST_SILENCES = 20
/** Moments of late and lost frames that are kept of a node. */
const MOST_OFF = 1000
/** The bus itself rests where all other nodes are quiet for this long. */
const REST_S = 0.3

/**
 * Who sends, how steadily, and who fell silent while the others went on. A node without a name in the signal table is
 * called after its identifier. Own time.
 */
export function summariseNodes(groups: readonly FrameGroup[], firstS: number, lastS: number): NodeSummary[] {
  const nodes = new Map<string, FrameGroup[]>()
  for (const group of groups) {
    if (group.frames === 0) continue
    const { node, key } = group.signals[0]!
    const name = node ?? `frame ${identifierText(key)}`
    nodes.set(name, [...(nodes.get(name) ?? []), group])
  }
  const steady = new Map(groups.map((group) => [group, steadyPeriod(group)]))
  return [...nodes].map(([name, own]) => {
    let late = 0
    let missing = 0
    let frames = 0
    const offAtS: number[] = []
    let periodS = Number.POSITIVE_INFINITY
    for (const group of own) {
      frames += group.frames
      const period = steady.get(group)!
      if (!(period > 0)) continue
      periodS = Math.min(periodS, period)
      const lost = lateAndMissing(group.timeS, period)
      late += lost.late
      missing += lost.missing
      offAtS.push(...lost.atS)
    }
    const others = groups.filter((group) => !own.includes(group) && steady.get(group)! > 0)
    const silent = Number.isFinite(periodS) ? silencesOf(own, others, periodS, firstS, lastS) : []
    return {
      name,
      silent_span_s: silent[0]?.span_s ?? null,
      silences: silent,
      period_s: Number.isFinite(periodS) ? periodS : null,
      frames,
      late,
      missing,
      first_s: Math.min(...own.map(({ timeS }) => timeS[0]!)),
      off_at_s: offAtS.sort((a, b) => a - b).slice(0, MOST_OFF),
    }
  })
}

/** The table's period, else the usual spacing where most spacings lie near it; NaN for a message sent now and then. */
function steadyPeriod(group: FrameGroup): number {
  const { timeS } = group
  const told = group.signals.find((signal) => signal.periodS !== null)?.periodS
  if (timeS.length < FEWEST_FRAMES) return Number.NaN
  const stride = Math.max(1, Math.floor(timeS.length / 2000))
  const spacings: number[] = []
  for (let i = stride; i < timeS.length; i += stride) spacings.push(timeS[i]! - timeS[i - 1]!)
  const usual = median(spacings)
  const near = spacings.filter((spacing) => Math.abs(spacing - usual) <= 0.5 * usual).length
  if (near < 0.7 * spacings.length || !(usual > 0)) return Number.NaN
  // a table that disagrees with what is on the bus is not followed
  return told !== undefined && told !== null && Math.abs(told - usual) < 0.3 * usual ? told : usual
}

/**
 * A frame that comes over half a period after its due time is late where the next is early by as much, else the
 * ones between were lost. Stretches of over ten periods are silence, not single losses.
 */
function lateAndMissing(
  timeS: Float64Array,
  periodS: number,
): { late: number; missing: number; atS: number[] } {
  let late = 0
  let missing = 0
  const atS: number[] = []
  for (let i = 1; i < timeS.length; i++) {
    const spacing = timeS[i]! - timeS[i - 1]!
    if (spacing < 1.5 * periodS || spacing > SILENT_PERIODS * periodS) continue
    const next = i + 1 < timeS.length ? timeS[i + 1]! - timeS[i]! : periodS
    if (next < 0.6 * periodS && spacing + next < 2.5 * periodS) late++
    else missing += Math.round(spacing / periodS) - 1
    if (atS.length < MOST_OFF) atS.push(timeS[i - 1]! + periodS)
  }
  return { late, missing, atS }
}

function silencesOf(
  own: readonly FrameGroup[],
  others: readonly FrameGroup[],
  periodS: number,
  firstS: number,
  lastS: number,
): NodeSummary['silences'] {
  const least = Math.max(SILENT_PERIODS * periodS, SILENT_S)
  const times = own.map((group) => group.timeS)
  const otherTimes = others.map((group) => group.timeS)
  const ownFirst = Math.min(...times.map((timeS) => timeS[0]!))
  const ownLast = Math.max(...times.map((timeS) => timeS[timeS.length - 1]!))
  return silences(times, least, firstS, lastS)
    .flatMap((gap) =>
      whileOthersSpeak(gap, otherTimes)
        .filter(([from, to]) => to - from > least)
        .map((span_s) => ({ span_s, at: placeOf(gap, ownFirst, ownLast) })),
    )
    .sort((a, b) => b.span_s[1] - b.span_s[0] - (a.span_s[1] - a.span_s[0]))
    .slice(0, MOST_SILENCES)
}

const placeOf = ([from, to]: Span, first: number, last: number): 'inside' | 'start' | 'end' =>
  to <= first ? 'start' : from >= last ? 'end' : 'inside'

/** The parts of a stretch in which the other nodes are heard. */
function whileOthersSpeak([from, to]: Span, others: readonly Float64Array[]): Span[] {
  const parts: Span[] = []
  let at = from
  for (const [start, end] of silences(others, REST_S, from, to)) {
    if (start > at) parts.push([at, start])
    at = end
  }
  if (to > at) parts.push([at, to])
  return parts
}
