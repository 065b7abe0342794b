import type { BusSummary } from '../../shared/drive.ts'
import { inferBitRate } from './frame-bits.ts'
import type { FrameCensus } from './frame-census.ts'
import { identifierText, type SignalTable } from './signal-table.ts'

/** The bus as a whole, in the log's own time. First cut: no nodes yet. */
export function summariseBus(file: string, census: FrameCensus, table: SignalTable): BusSummary {
  const bits = census.bitsPerSecond()
  const bitRate = table.bitRate ?? inferBitRate(bits)
  return {
    file,
    bit_rate: bitRate,
    load_percent: [...bits].map((each) => (100 * each) / bitRate),
    error_frames: census.errorFrames,
    remote_frames: census.remoteFrames,
    nodes: [],
    unexplained: census.identifiers
      .filter((each) => each.route === null)
      .map((each) => ({
        identifier: identifierText(each.key),
        count: each.count,
        rate_hz: each.lastS > each.firstS ? (each.count - 1) / (each.lastS - each.firstS) : 0,
        changing_bytes: [...(each.changing ?? [])].flatMap((on, k) => (on ? [k] : [])),
      })),
  }
}
