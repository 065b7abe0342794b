import type { BusSummary } from '../../../shared/drive.ts'
import { inferBitRate } from './frame-bits.ts'
import type { FrameCensus } from './frame-census.ts'
import type { FrameGroup } from './frame-groups.ts'
import { summariseNodes } from './frame-nodes.ts'
import { identifierText, type SignalTable } from './signal.ts'

/** The bus as a whole: load, senders, what no signal explains. In the log's own time; groups already filled. */
export function summariseBus(
  file: string,
  census: FrameCensus,
  table: SignalTable,
  groups: readonly FrameGroup[],
): BusSummary {
  const bits = census.load.bitsPerSecond()
  const bitRate = table.bitRate ?? inferBitRate(bits)
  let worst = 0
  for (const each of census.load.worstBitsPerSecond()) worst = Math.max(worst, each)
  return {
    file,
    bit_rate: bitRate,
    bit_rate_from: table.bitRate === null ? 'smallest that fits' : 'signal table',
    first_s: census.load.firstS,
    load_percent: Array.from(bits, (each) => (100 * each) / bitRate),
    worst_load_percent: (100 * worst) / bitRate,
    error_frames: census.errorFrames,
    remote_frames: census.remoteFrames,
    nodes: summariseNodes(groups, census.load.firstS, census.load.lastS),
    unexplained: census.identifiers
      .filter((each) => each.route === null)
      .map((each) => ({
        identifier: identifierText(each.key),
        count: each.count,
        rate_hz: each.lastS > each.firstS ? (each.count - 1) / (each.lastS - each.firstS) : 0,
        changing_bytes: Array.from(each.changing).flatMap((on, k) => (on ? [k] : [])),
      })),
  }
}
