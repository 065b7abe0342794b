import type { FrameSeen, ProposedRow } from '../../../shared/api.ts'
import { LogError } from '../../errors.ts'
import type { FrameCensus, IdentifierCount } from './frame-census.ts'
import { EXTENDED, identifierText } from './signal.ts'

/** A frame log without a signal table: the sentence names the option, the data lets a page offer a way on. */
export class NoSignalsError extends LogError {
  readonly log: string
  /** Most frequent first. */
  readonly frames: readonly FrameSeen[]
  /** Rows proposed for a table, where somebody looked. */
  proposed: readonly ProposedRow[] = []

  constructor(name: string, frames: readonly FrameSeen[]) {
    const shown = frames.slice(0, 30).map((each) => `${each.identifier} ${rateWords(each)}`)
    const more = frames.length - shown.length
    super(
      'no-signals',
      `${name}: raw CAN frames need a signal table (--signals FILE) to be read; identifiers seen: ${shown.join(', ')}${more > 0 ? ` and ${more} more` : ''}.`,
    )
    this.log = name
    this.frames = frames
  }
}

export function framesSeen(census: FrameCensus): FrameSeen[] {
  return [...census.identifiers]
    .sort((a, b) => b.count - a.count)
    .map((each) => ({
      identifier: identifierText(each.key),
      extended: (each.key & EXTENDED) !== 0,
      count: each.count,
      rate_hz: each.lastS > each.firstS ? (each.count - 1) / (each.lastS - each.firstS) : null,
      length: each.longest,
      changing_bytes: Array.from(each.changing).flatMap((on, k) => (on ? [k] : [])),
    }))
}

/**
 * A signal table to fill, one row a changing byte of each frame: give each row a name and unit, join rows of signals that
 * are longer, leave out what is not known. It reads as it is (names such as `0x30E byte 2`).
 */
export function signalTemplate(frames: readonly FrameSeen[]): { readonly signals: readonly object[] } {
  return {
    signals: frames.flatMap(({ identifier, extended, changing_bytes }) =>
      changing_bytes.map((byte) => ({
        identifier,
        extended,
        name: `${identifier} byte ${byte}`,
        start_bit: 8 * byte,
        length: 8,
        byte_order: 'little',
        signed: false,
        factor: 1,
        offset: 0,
        unit: '',
      })),
    ),
  }
}

const rateWords = ({ rate_hz, count }: Pick<FrameSeen, 'rate_hz' | 'count'>): string =>
  rate_hz === null ? `${count}×` : `${rate_hz.toPrecision(3)}/s`

export function rateText({ count, firstS, lastS }: IdentifierCount): string {
  return rateWords({ count, rate_hz: lastS > firstS ? (count - 1) / (lastS - firstS) : null })
}
