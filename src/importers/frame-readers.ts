import { isPcap, pcapReader } from './captures/pcap.ts'
import { isPcapng, pcapngReader } from './captures/pcapng.ts'
import { frameCsvReader, isFrameCsv } from './frame-csv/frame-csv.ts'
import type { FrameReader } from './frames/frame-log.ts'

/** How the frames of a log are walked; null where it holds none. */
export function frameReaderOf(head: Uint8Array): FrameReader | null {
  if (isPcap(head)) return pcapReader
  if (isPcapng(head)) return pcapngReader
  return isFrameCsv(head) ? frameCsvReader : null
}
