import { catalogueEntry } from '../../shared/channels.ts'
import { identifierText } from '../importers/frames/signal.ts'
import type { Candidate } from './candidates.ts'

/** A row that the tool proposes for the signal table; a person accepts it, or not. */
export interface Proposal {
  readonly candidate: Candidate
  readonly channel: string
  readonly factor: number
  readonly offset: number
  /** 0 … 1: how sure place, order, sign, scale and channel are together. */
  readonly sureness: number
  readonly from: 'second log' | 'relation'
  /** What speaks for it, in a sentence. */
  readonly why: string
  /** What else it could be; null where nothing comes near. */
  readonly otherwise: string | null
}

/** The proposal as a row of the signal table, keys as the contract has them. */
export function tableRow({ candidate, channel, factor, offset }: Proposal): Record<string, unknown> {
  const { look, content, place } = candidate
  const selector = look.selector
  // a selector is read in its signal's byte order: within one byte only the start is named otherwise
  const selectorStart =
    selector && place.byteOrder === 'big' ? selector.startBit + selector.length - 1 : selector?.startBit
  return {
    identifier: identifierText(look.message.key),
    extended: look.message.key < 0,
    name: channel,
    channel,
    start_bit: place.startBit,
    length: place.length,
    byte_order: place.byteOrder,
    signed: place.signed,
    factor,
    offset,
    unit: catalogueEntry(channel)?.unit ?? '',
    ...(selector && content.value !== null
      ? {
          selector_start_bit: selectorStart,
          selector_length: selector.length,
          selector_value: content.value,
        }
      : {}),
  }
}

/** `0x321`, or `0x321, selector 5`: where it lies, for people. */
export function whereText({ look, content, place }: Candidate): string {
  const chosen = content.value === null ? '' : `, selector ${content.value}`
  return `${identifierText(look.message.key)}${chosen}, bit ${place.startBit}, ${place.length} bits`
}
