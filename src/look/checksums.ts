import type { Message } from './captured.ts'
import type { Flips } from './flips.ts'

/** How a byte (or half of one) follows from the rest of its frame. */
export interface Checksum {
  readonly byte: number
  /** The whole byte, or one half of it. */
  readonly part: 'byte' | 'low' | 'high'
  /** `sum`, `negative sum`, `XOR`, `CRC-8 0x1D` … */
  readonly kind: string
  /** Frames that fit, of those looked at. */
  readonly share: number
}

/**
 * CRC-8 polynomials in use: 0x07 (ITU-T I.432.1), 0x1D (SAE J1850), 0x2F (AUTOSAR), 0x31 (1-Wire), 0x39 (DARC), 0x49
 * (GSM), 0x9B (LTE), 0xA7 (Bluetooth), 0xD5 (DVB-S2). Source: catalogues of parametrised CRC algorithms, from memory.
 */
export const CRC8_POLYNOMIALS = [0x1d, 0x2f, 0x07, 0x31, 0x9b, 0xd5, 0x39, 0x49, 0xa7] as const

/** Rows looked at, spread over the capture; the least that prove anything; the share that must fit. */
const ROWS = 400
const LEAST_ROWS = 24
const FITS = 0.97
/** Different values that a byte must take before its rule can be told from luck: 2 ** −8 each. */
const LEAST_VALUES = 6

/**
 * Which byte is a check over the others? Sum, XOR and CRC-8 are tried as differences between frames, so that any start
 * value, final XOR and constant data identifier fits; where one constant does not, one for each value of the counter is
 * tried (identifier lists).
 *
 * Blind: checks over two bytes; checks that leave bytes of the frame out; frames in which nothing but the check and one
 * more byte changes (a copy fits as well as a sum).
 */
export function findChecksum(
  message: Message,
  { flips, pairs }: Flips,
  counter: { readonly startBit: number; readonly length: number } | null,
): Checksum | null {
  const { bytes, count, least } = message
  if (count < LEAST_ROWS || bytes < 2 || least !== bytes) return null
  const rows = spreadRows(message, ROWS)
  const busy: number[] = []
  for (let k = 0; k < bytes; k++) {
    let most = 0
    for (let b = 0; b < 8; b++) most = Math.max(most, flips[8 * k + b]!)
    if (most > 0) busy.push(k)
  }
  if (busy.length < 2 || pairs === 0) return null
  // the usual places first: the last byte, the first, then the others
  const order = [...new Set([bytes - 1, 0, ...busy])].filter((k) => busy.includes(k))
  for (const byte of order) {
    if (counter && counter.length >= 8 && counter.startBit >> 3 === byte) continue
    const found = wholeByte(message, rows, byte, counter)
    if (found) return found
  }
  for (const byte of order)
    for (const part of ['low', 'high'] as const) {
      const shift = part === 'low' ? 0 : 4
      if (counter && counter.startBit >> 3 === byte && (counter.startBit & 4) === shift) continue
      const found = halfByte(message, rows, byte, part)
      if (found) return found
    }
  return null
}

/** Rows spread evenly in short blocks, so that counters turn inside. */
function spreadRows({ count }: Message, most: number): Int32Array {
  if (count <= most) return Int32Array.from({ length: count }, (_, i) => i)
  const block = 20
  const blocks = Math.floor(most / block)
  return Int32Array.from(
    { length: blocks * block },
    (_, i) => Math.floor((Math.floor(i / block) * (count - block)) / (blocks - 1)) + (i % block),
  )
}

function wholeByte(
  message: Message,
  rows: Int32Array,
  byte: number,
  counter: { readonly startBit: number; readonly length: number } | null,
): Checksum | null {
  const { data, stride, bytes } = message
  const check = new Uint8Array(rows.length)
  const values = new Set<number>()
  const rests = new Set<string>()
  const changing = new Set<number>()
  for (let i = 0; i < rows.length; i++) {
    const at = rows[i]! * stride
    check[i] = data[at + byte]!
    values.add(check[i]!)
    let rest = ''
    for (let k = 0; k < bytes; k++) {
      if (k === byte) continue
      rest += String.fromCharCode(data[at + k]!)
      if (data[at + k] !== data[rows[0]! * stride + k]) changing.add(k)
    }
    rests.add(rest)
  }
  if (values.size < LEAST_VALUES || rests.size < LEAST_VALUES) return null
  const one = changing.size < 2
  const turn = counter && counter.startBit >> 3 !== byte ? counter : null
  for (const [kind, of] of RULES) {
    // one other byte alone: its sum or XOR is a copy as much as a check
    if (one && !kind.startsWith('CRC')) continue
    const share = fits(message, rows, byte, check, of, null)
    if (share >= FITS) return { byte, part: 'byte', kind, share }
  }
  if (turn && rests.size > 64 && changing.size > 1)
    for (const [kind, of] of RULES.filter(([name]) => name.startsWith('CRC'))) {
      const share = fits(message, rows, byte, check, of, turn)
      if (share >= FITS) return { byte, part: 'byte', kind: `${kind}, a constant a count`, share }
    }
  return null
}

/** What remains of the check once the rule is taken out must be one constant (or one a count). */
function fits(
  { data, stride, bytes }: Message,
  rows: Int32Array,
  byte: number,
  check: Uint8Array,
  of: Rule,
  turn: { readonly startBit: number; readonly length: number } | null,
): number {
  const counts = new Uint16Array(256 * 256)
  let seen = 0
  for (let i = 0; i < rows.length; i++) {
    const at = rows[i]! * stride
    const rest = of(data, at, bytes, byte, check[i]!)
    const group = turn
      ? (data[at + (turn.startBit >> 3)]! >> (turn.startBit & 7)) & ((1 << turn.length) - 1)
      : 0
    counts[(group & 255) * 256 + rest]!++
    seen++
    // most rules fail within a few frames
    if (i === 12 && !turn && counts.subarray(0, 256).every((each) => each < 8)) return 0
  }
  let right = 0
  let groups = 0
  for (let group = 0; group < (turn ? 256 : 1); group++) {
    let most = 0
    let all = 0
    for (let value = 0; value < 256; value++) {
      const n = counts[group * 256 + value]!
      all += n
      if (n > most) most = n
    }
    right += most
    if (all > 0) groups++
  }
  // a constant a group costs one frame each: only what is left proves anything
  return seen - groups < LEAST_ROWS / 2 ? 0 : right / seen
}

type Rule = (data: Uint8Array, at: number, bytes: number, byte: number, check: number) => number

const xorRule: Rule = (data, at, bytes, byte, check) => {
  let rest = check
  for (let k = 0; k < bytes; k++) if (k !== byte) rest ^= data[at + k]!
  return rest
}

const sumRule =
  (sign: 1 | -1): Rule =>
  (data, at, bytes, byte, check) => {
    let sum = 0
    for (let k = 0; k < bytes; k++) if (k !== byte) sum += data[at + k]!
    return (check - sign * sum) & 255
  }

const crcRule = (polynomial: number, reflected: boolean): Rule => {
  const table = crcTable(polynomial, reflected)
  return (data, at, bytes, byte, check) => {
    let crc = 0
    for (let k = 0; k < bytes; k++) if (k !== byte) crc = table[crc ^ data[at + k]!]!
    return crc ^ check
  }
}

/** @param reflected lowest bit first */
export function crcTable(polynomial: number, reflected: boolean): Uint8Array {
  let turned = 0
  for (let b = 0; b < 8; b++) if ((polynomial >> b) & 1) turned |= 0x80 >> b
  return Uint8Array.from({ length: 256 }, (_, value) => {
    let crc = value
    for (let b = 0; b < 8; b++)
      crc = reflected
        ? (crc >> 1) ^ (crc & 1 ? turned : 0)
        : ((crc << 1) & 255) ^ (crc & 0x80 ? polynomial : 0)
    return crc
  })
}

const hex = (value: number): string => `0x${value.toString(16).toUpperCase().padStart(2, '0')}`

const RULES: readonly (readonly [string, Rule])[] = [
  ['XOR', xorRule],
  ['sum', sumRule(1)],
  ['negative sum', sumRule(-1)],
  ...CRC8_POLYNOMIALS.flatMap((polynomial) => [
    [`CRC-8 ${hex(polynomial)}`, crcRule(polynomial, false)] as const,
    [`CRC-8 ${hex(polynomial)}, lowest bit first`, crcRule(polynomial, true)] as const,
  ]),
]

/** Half a byte as the sum or XOR of all other halves. */
function halfByte(message: Message, rows: Int32Array, byte: number, part: 'low' | 'high'): Checksum | null {
  const { data, stride, bytes } = message
  const shift = part === 'low' ? 0 : 4
  const values = new Set<number>()
  const changing = new Set<number>()
  const kinds = ['XOR', 'sum', 'negative sum'] as const
  const counts = kinds.map(() => new Uint32Array(16))
  for (let i = 0; i < rows.length; i++) {
    const at = rows[i]! * stride
    const check = (data[at + byte]! >> shift) & 15
    values.add(check)
    let xor = 0
    let sum = 0
    for (let k = 0; k < bytes; k++) {
      const value = k === byte ? data[at + k]! & (part === 'low' ? 0xf0 : 0x0f) : data[at + k]!
      if (
        value !==
        (k === byte
          ? data[rows[0]! * stride + k]! & (part === 'low' ? 0xf0 : 0x0f)
          : data[rows[0]! * stride + k]!)
      )
        changing.add(k)
      xor ^= (value & 15) ^ (value >> 4)
      sum += (value & 15) + (value >> 4)
    }
    counts[0]![check ^ xor]!++
    counts[1]![(check - sum) & 15]!++
    counts[2]![(check + sum) & 15]!++
  }
  if (values.size < LEAST_VALUES || changing.size < 2) return null
  for (const [at, kind] of kinds.entries()) {
    const share = Math.max(...counts[at]!) / rows.length
    if (share >= FITS) return { byte, part, kind: `${kind} of halves`, share }
  }
  return null
}
