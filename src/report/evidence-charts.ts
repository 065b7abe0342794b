import { channelLabel } from '../../shared/channels.ts'
import { channelNamed, type Drive } from '../../shared/drive.ts'
import { LIMITS } from '../../shared/limits.ts'
import type { CellRow, Finding, Review } from '../../shared/review.ts'
import { clockText, numberText } from '../../shared/wording.ts'
import { thinOut } from '../math/thin-out.ts'
import { cellPicture } from './cell-picture.ts'
import { isState, type StateWords, stateLane } from './state-lanes.ts'
import { svgBars, svgChart, timeSteps } from './svg-chart.ts'
import { type SvgLane, svgLanes } from './svg-lanes.ts'

const MOST_LINES = 4
const MOST_CHARTS = 3
const MOST_LANES = 6

/**
 * The fault as it looks, where that can be drawn; the finding's evidence, a chart a unit; below them switches and states
 * in words.
 */
export function evidenceCharts(
  finding: Finding,
  drive: Drive,
  words: StateWords = {},
  most = MOST_CHARTS,
): string[] {
  const [from, to] = finding.evidence.span_s
  const margin = Math.max(2, (to - from) * 0.08)
  const span = [Math.max(0, from - margin), Math.min(drive.durationS, to + margin)] as const
  const shade = finding.span_s[1] - finding.span_s[0] > 0.8 * drive.durationS ? null : finding.span_s
  const byUnit = new Map<string, string[]>()
  const lanes: SvgLane[] = []
  for (const id of finding.evidence.channels) {
    const channel = channelNamed(drive.channels, id)
    if (!channel) continue
    const lane = isState(channel) ? stateLane(channel, span, words) : null
    if (lane) lanes.push(lane)
    else if (!isState(channel)) byUnit.set(channel.unit, [...(byUnit.get(channel.unit) ?? []), id])
  }
  const ticks = timeSteps(span, 6).map((at) => ({ at, word: clockText(at) }))
  const states = svgLanes(lanes.slice(0, MOST_LANES), span, shade, ticks)
  const curves = [...byUnit]
    .slice(0, most)
    .map(([, ids]) => {
      const unit = channelNamed(drive.channels, ids[0]!)!.unit
      const shown = ids.slice(0, MOST_LINES)
      const { limit } = finding
      return svgChart({
        title: shown.map(channelLabel).join(', '),
        unit,
        lines: shown.map((id) => {
          const channel = channelNamed(drive.channels, id)!
          const thinned = thinOut(channel.timeS, channel.values, span, 500)
          return { label: channelLabel(id), x: thinned.timeS, y: thinned.values }
        }),
        limits:
          limit !== null && unit === finding.unit && unit !== ''
            ? [{ label: `limit ${numberText(limit)}`, value: limit }]
            : [],
        shade,
        xIsTime: true,
        xLabel: 'time from the start of the drive, min:s',
      })
    })
    .filter((chart) => chart !== '')
  return [cellPicture(finding, drive), ...curves, states].filter((chart) => chart !== '').slice(0, most)
}

/** One bar a cell for what the pack's analyses measured, the accused ones solid. */
export function packBars(review: Review): string {
  const bars = (
    title: string,
    unit: string,
    key: 'joint_extra_mohm' | 'resistance_mohm' | 'rest_offset_mv',
    kinds: readonly string[],
    limit: number | null,
  ) => {
    const accused = new Set(
      review.findings
        .filter(({ kind, severity }) => kinds.includes(kind) && severity !== 'note')
        .map(({ subject }) => subject.index),
    )
    const rows = review.cells.filter((cell: CellRow) => cell[key] !== null)
    return svgBars(
      title,
      unit,
      rows.map((cell) => ({
        index: cell.index,
        value: cell[key]!,
        plusMinus: cell[`${key}_plus_minus`],
        marked: accused.has(cell.index),
      })),
      limit === null ? [] : [{ label: `attention ${numberText(limit)}`, value: limit }],
    )
  }
  const all = [
    bars(
      'Extra resistance of the joint read with each cell',
      'mΩ',
      'joint_extra_mohm',
      ['joint-resistance-high'],
      LIMITS.joint.attention,
    ),
    bars('Short-time resistance of each cell', 'mΩ', 'resistance_mohm', ['cell-weak'], null),
    bars('Rest offset of each cell from the median', 'mV', 'rest_offset_mv', ['cell-imbalance'], null),
  ].filter((chart) => chart !== '')
  return all.length === 0 ? '' : `<section><h2>The pack, cell by cell</h2>${all.join('')}</section>`
}
