import type { LogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'

/**
 * Files of open standards that carry measurements and are not read: how each begins. Source: the formats' own
 * documents, from memory.
 */
const OTHERS: readonly (readonly [magic: string, what: string])[] = [
  ['MDF     ', 'a measurement file of the ASAM MDF standard'],
  ['UnFinMF ', 'a measurement file of the ASAM MDF standard, not finished'],
  ['\x89HDF\r\n', 'an HDF5 file'],
  ['ARROW1', 'an Arrow file'],
  ['TDSm', 'a TDMS measurement file'],
  ['SQLite format 3', 'an SQLite database'],
]

const found = (head: Uint8Array): string | null =>
  OTHERS.find(([magic]) => Buffer.from(head.subarray(0, magic.length)).toString('latin1') === magic)?.[1] ??
  null

/** A measurement file that is known by its first bytes, and not read. */
export const isOtherFile = (head: Uint8Array): boolean => found(head) !== null

/** @throws LogError what it is and the one step that helps */
export async function refuseOtherFile(source: LogSource): Promise<never> {
  throw new LogError(
    'other-file',
    `${source.name}: is ${found(source.head)}, which is not read yet; export it as CSV with a time column, a column a channel and the units in the header, or its bus frames as pcap.`,
  )
}
