import type { ByteOrder } from '../importers/frames/signal.ts'
import { type Message, rowsOf } from './captured.ts'
import { type Checksum, findChecksum } from './checksums.ts'
import { type Counter, findCounters } from './counters.ts'
import { countFlips, type Flips } from './flips.ts'
import { type Joins, joinsOf, type Place, placesOf } from './number-fields.ts'
import { bitsOf } from './raw-values.ts'
import { findSelector, type Selector } from './selectors.ts'
import { textOfBytes } from './texts.ts'

/** What one identifier carries for one value of its selector (or always). */
export interface Content {
  /** null: no selector. */
  readonly value: number | null
  readonly message: Message
  readonly flips: Flips
  readonly without: Uint8Array
  readonly joins: Joins
  readonly text: { readonly byte: number; readonly length: number; readonly text: string } | null
}

/** One identifier as a first look shows it. */
export interface MessageLook {
  readonly message: Message
  readonly counters: readonly Counter[]
  readonly checksum: Checksum | null
  readonly selector: Selector | null
  readonly contents: readonly Content[]
}

/** Everything that a message's own bits tell. */
export function lookAtMessage(message: Message): MessageLook {
  const flips = countFlips(message)
  const counters = findCounters(message, flips)
  const checksum = findChecksum(message, flips, counters[0] ?? null)
  const check = new Uint8Array(message.bytes)
  if (checksum) check[checksum.byte] = checksum.part === 'byte' ? 0xff : checksum.part === 'low' ? 0x0f : 0xf0
  const selector = findSelector(message, check)
  // what chooses the content goes round too; it is no counter
  const chosen = new Set(selector ? bitsOf(selector) : [])
  const counting = counters.filter((counter) => !bitsOf(counter).some((bit) => chosen.has(bit)))
  const without = check.slice()
  for (const counter of counting) for (const bit of bitsOf(counter)) without[bit >> 3]! |= 1 << (bit & 7)
  return {
    message,
    counters: counting,
    checksum,
    selector,
    contents: contentsOf(message, flips, without, selector),
  }
}

function contentsOf(
  message: Message,
  flips: Flips,
  without: Uint8Array,
  selector: Selector | null,
): Content[] {
  if (!selector) return [contentOf(message, flips, without, null)]
  const byte = selector.startBit >> 3
  const low = selector.startBit & 7
  const mask = (1 << selector.length) - 1
  const rest = without.slice()
  rest[byte]! |= mask << low
  return selector.values.map((value) => {
    const rows = rowsOf(message, (i) => ((message.data[i * message.stride + byte]! >> low) & mask) === value)
    return contentOf(rows, countFlips(rows), rest, value)
  })
}

function contentOf(message: Message, flips: Flips, without: Uint8Array, value: number | null): Content {
  const text = textOfBytes(message, without)
  const taken = without.slice()
  if (text) taken.fill(0xff, text.byte, text.byte + text.length)
  return { value, message, flips, without: taken, joins: joinsOf(message, flips, taken), text }
}

/** Which byte order do carries prove, over all messages? */
export function usualOrder(looks: readonly MessageLook[]): ByteOrder | null {
  let little = 0
  let big = 0
  for (const { contents } of looks)
    for (const { joins } of contents) {
      little += joins.little.filter((on) => on).length
      big += joins.big.filter((on) => on).length
    }
  return little === 0 && big === 0 ? null : little >= big ? 'little' : 'big'
}

export const numbersOf = ({ message, flips, joins }: Content, usual: ByteOrder): Place[] =>
  placesOf(message, flips, joins, usual)
