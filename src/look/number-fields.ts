import type { ByteOrder } from '../importers/frames/signal.ts'
import type { Message } from './captured.ts'
import type { Flips } from './flips.ts'
import { isJoined, joinRatio } from './joins.ts'
import { bitsOf, type NumberField } from './raw-values.ts'
import { type Run, runsOf, SELDOM } from './runs.ts'

/** A place that holds one number, as far as its own bits tell. */
export interface Place extends NumberField {
  /** How its byte order is known: carries between its bytes, one byte only, or others of the bus. */
  readonly order: 'carries' | 'one byte' | 'others'
}

/** A byte of a message: constant, or with runs of bits that move. */
interface ByteLook {
  readonly runs: readonly Run[]
  /** Value where the whole byte never changes, else −1. */
  readonly constant: number
}

export interface Joins {
  readonly bytes: readonly ByteLook[]
  /** Byte k is the lower part of byte k + 1, or the other way round; by k. */
  readonly little: boolean[]
  readonly big: boolean[]
}

/** Bytes and how they join, before anything is assumed. */
export function joinsOf(message: Message, flips: Flips, without: Uint8Array): Joins {
  const bytes = Array.from({ length: message.bytes }, (_, k): ByteLook => {
    const runs = runsOf(flips, k, without[k]!)
    return { runs, constant: runs.length === 0 && without[k] === 0 ? message.data[k]! : -1 }
  })
  const ratios: { readonly k: number; readonly order: ByteOrder; readonly ratio: number }[] = []
  for (let k = 0; k + 1 < bytes.length; k++)
    for (const order of ['little', 'big'] as const) {
      const [low, high] = order === 'little' ? [bytes[k]!, bytes[k + 1]!] : [bytes[k + 1]!, bytes[k]!]
      const lower = low.runs.find((run) => run.high === 7)
      const upper = high.runs.find((run) => run.low === 0)
      if (!lower || !upper) continue
      const ratio = joinRatio(message, lower, upper)
      if (isJoined(ratio)) ratios.push({ k, order, ratio: ratio! })
    }
  const little = new Array<boolean>(bytes.length).fill(false)
  const big = new Array<boolean>(bytes.length).fill(false)
  // the surest first; a run of bits is the lower part of one number and the upper part of one
  const low = new Set<number>()
  const high = new Set<number>()
  const prefer = preferred(ratios)
  const rank = ({ order, ratio }: (typeof ratios)[number]): number => ratio - (order === prefer ? 0.25 : 0)
  for (const { k, order } of ratios.sort((a, b) => rank(a) - rank(b))) {
    const [lower, upper] = order === 'little' ? [k, k + 1] : [k + 1, k]
    if (low.has(lower) || high.has(upper)) continue
    // a whole byte that is one run cannot be lower part in one order and upper part in the other
    const whole = (byte: number) => bytes[byte]!.runs.length === 1
    if (order === 'little' && ((whole(k) && big[k - 1]) || (whole(k + 1) && big[k + 1]))) continue
    if (order === 'big' && ((whole(k + 1) && little[k + 1]) || (whole(k) && little[k - 1]))) continue
    if (order === 'little') little[k] = true
    else big[k] = true
    low.add(lower)
    high.add(upper)
  }
  return { bytes, little, big }
}

/**
 * Cells at one level carry nearly at the same moments, so that a byte seems to join its neighbour's as well as its own: the
 * order in which more pairs fit beside each other is the message's.
 */
function preferred(
  ratios: readonly { readonly k: number; readonly order: ByteOrder; readonly ratio: number }[],
): ByteOrder | null {
  const sum = (order: ByteOrder): number => {
    let total = 0
    let free = -1
    for (const each of ratios.filter((one) => one.order === order).sort((a, b) => a.k - b.k)) {
      if (each.k < free) continue
      total += 1 - each.ratio
      free = each.k + 2
    }
    return total
  }
  const little = sum('little')
  const big = sum('big')
  return little === big ? null : little > big ? 'little' : 'big'
}

/**
 * Numbers of a message. What carries join is one number; a byte that never changes beside one that does is taken as its
 * upper part, in the order that the bus shows elsewhere.
 */
export function placesOf(message: Message, flips: Flips, joins: Joins, usual: ByteOrder): Place[] {
  const { bytes, little, big } = joins
  const used = new Set<Run>()
  const constants = new Set<number>(
    bytes.flatMap(({ constant, runs }, k) => (constant >= 0 || quiet(runs, flips) ? [k] : [])),
  )
  const places: Place[] = []
  const push = (runs: readonly Run[], order: ByteOrder): void => {
    for (const run of runs) used.add(run)
    const place = withConstants(message, flips, bytes, runs, order, constants, used)
    places.push(place)
  }
  // joined bytes first: chains from the lowest byte up
  for (let k = 0; k < bytes.length; k++) {
    if (little[k] && !(k > 0 && little[k - 1] && oneRun(bytes[k]!)))
      push(chain(bytes, little, k, 1), 'little')
  }
  for (let k = bytes.length - 1; k >= 1; k--) {
    if (big[k - 1] && !(k < bytes.length - 1 && big[k] && oneRun(bytes[k]!)))
      push(chain(bytes, big, k, -1), 'big')
  }
  const open = bytes.flatMap(({ runs }) => runs.filter((run) => !used.has(run)))
  // a byte that moves itself gives way only where nothing else is left for it
  open.sort((a, b) => Number(constants.has(a.byte)) - Number(constants.has(b.byte)) || a.byte - b.byte)
  const alone: ByteOrder = 'little'
  // single runs: with the constant byte that their order points to
  const order = orderByLayout(open, constants, usual)
  for (const run of order === 'little' ? open : [...open].reverse())
    if (!used.has(run)) push([run], run.high > run.low || touches(run, constants, order) ? order : alone)
  return onGrid(message, flips, places).sort((a, b) => a.startBit - b.startBit)
}

/** All bits of the byte move seldom: it may be the upper part of its neighbour. */
const quiet = (runs: readonly Run[], { flips }: Flips): boolean =>
  runs.length > 0 &&
  runs.every((run) =>
    flips.subarray(8 * run.byte + run.low, 8 * run.byte + run.high + 1).every((n) => n < SELDOM),
  )

/**
 * Where some numbers of a message fill pairs of bytes, another pair of which only a few bits moved, seldom, is taken as one
 * more of them: slow temperatures beside each other.
 */
function onGrid(message: Message, { flips }: Flips, places: readonly Place[]): Place[] {
  const wide = places.filter((place) => place.length === 16 && place.order === 'carries')
  const first = wide[0]
  if (!first) return [...places]
  const lowest = (place: Place): number => place.startBit >> 3
  const parity = lowest(first) & 1
  if (wide.some((place) => (lowest(place) & 1) !== parity || place.byteOrder !== first.byteOrder))
    return [...places]
  let kept = [...places]
  for (let byte = parity; byte + 1 < message.bytes; byte += 2) {
    const own = kept.filter((place) => {
      const bits = bitsOf(place)
      return bits.some((bit) => bit >> 3 === byte || bit >> 3 === byte + 1)
    })
    if (own.length < 2 && own[0]?.length === 16) continue
    if (
      own.length === 0 ||
      own.some((place) => bitsOf(place).some((bit) => bit >> 3 < byte || bit >> 3 > byte + 1))
    )
      continue
    if (flips.subarray(8 * byte, 8 * byte + 16).some((n) => n >= SELDOM)) continue
    const field = {
      startBit: first.byteOrder === 'little' ? 8 * byte : 8 * byte + 7,
      length: 16,
      byteOrder: first.byteOrder,
    }
    kept = kept.filter((place) => !own.includes(place))
    kept.push({ ...field, signed: looksSigned(message, field), order: 'others' })
  }
  return kept
}

const oneRun = ({ runs }: ByteLook): boolean => runs.length === 1
const touches = (run: Run, constants: ReadonlySet<number>, order: ByteOrder): boolean =>
  constants.has(run.byte + (order === 'little' ? 1 : -1))

function chain(bytes: readonly ByteLook[], joined: readonly boolean[], from: number, step: 1 | -1): Run[] {
  const runs = [bytes[from]!.runs.find((run) => run.high === 7)!]
  for (let k = from; ; k += step) {
    if (!joined[step === 1 ? k : k - 1]) break
    const upper = bytes[k + step]!.runs.find((run) => run.low === 0)!
    runs.push(upper)
    if (upper.high !== 7) break
  }
  return runs
}

/** Bytes alone among constant bytes: does each have its constant one after it, or before it? */
function orderByLayout(open: readonly Run[], constants: ReadonlySet<number>, usual: ByteOrder): ByteOrder {
  const fits = (order: ByteOrder): number =>
    open.filter((run) => run.high - run.low >= 1 && touches(run, constants, order)).length
  const little = fits('little')
  const big = fits('big')
  return little === big ? usual : little > big ? 'little' : 'big'
}

/** Widens the number over bits that never change: upwards to its byte's end or into constant bytes, down to its byte's start. */
function withConstants(
  message: Message,
  { flips }: Flips,
  bytes: readonly ByteLook[],
  runs: readonly Run[],
  order: ByteOrder,
  constants: Set<number>,
  used: Set<Run>,
): Place {
  const first = runs[0]!
  const last = runs[runs.length - 1]!
  const still = (byte: number, bit: number): boolean => flips[8 * byte + bit] === 0
  let low = first.low
  const single = runs.length === 1 && first.low === first.high
  const others = bytes[first.byte]!.runs.length > 1
  if (!single && !others) while (low > 0 && still(first.byte, low - 1)) low--
  let high = last.high
  const top8 = 8 * last.byte
  const seldom = (bit: number): boolean =>
    last.high - last.low + 8 * (runs.length - 1) >= 3 &&
    flips[top8 + bit]! < SELDOM &&
    flips[top8 + bit]! <= Math.max(...flips.subarray(top8 + last.low, top8 + bit))
  while (high < 7 && !(single && others) && (still(last.byte, high + 1) || seldom(high + 1))) high++
  for (const run of bytes[last.byte]!.runs) if (run.low > last.high && run.high <= high) used.add(run)
  let top = last.byte
  let known: Place['order'] = runs.length > 1 ? 'carries' : 'one byte'
  const next = last.byte + (order === 'little' ? 1 : -1)
  const taken = bytes[next]?.runs.some((run) => used.has(run)) ?? true
  if (high === 7 && low === 0 && runs.length === 1 && !single && constants.has(next) && !taken) {
    constants.delete(next)
    for (const run of bytes[next]!.runs) used.add(run)
    top = next
    high = 7
    known = 'others'
  }
  const length =
    top === first.byte ? high - low + 1 : 8 - low + 8 * (Math.abs(top - first.byte) - 1) + high + 1
  const oneByte = top === first.byte
  const field = {
    startBit: order === 'little' || oneByte ? 8 * first.byte + low : 8 * top + high,
    length,
    byteOrder: oneByte ? ('little' as const) : order,
  }
  return { ...field, signed: looksSigned(message, field), order: known }
}

/** Read with a sign, does the number jump less? */
function looksSigned(
  message: Message,
  field: { startBit: number; length: number; byteOrder: ByteOrder },
): boolean {
  if (field.length < 2) return false
  const { data, stride, count } = message
  const { startBit, length, byteOrder } = field
  const top = byteOrder === 'big' ? startBit : startBit + length - 1
  // the sign bit and the one below: a number that crosses zero turns both
  const byte = top >> 3
  const bit = top & 7
  let flips = 0
  let alike = 0
  let ones = 0
  const belowBit = bit > 0 ? bit - 1 : 7
  const belowByte = bit > 0 ? byte : byteOrder === 'big' ? byte + 1 : byte - 1
  for (let i = 0; i < count; i++) {
    const now = (data[i * stride + byte]! >> bit) & 1
    ones += now
    if (i === 0) continue
    if (now === ((data[(i - 1) * stride + byte]! >> bit) & 1)) continue
    flips++
    const below = (data[i * stride + belowByte]! >> belowBit) & 1
    const before = (data[(i - 1) * stride + belowByte]! >> belowBit) & 1
    if (below === now && before !== now) alike++
  }
  if (flips === 0) return ones === count
  return alike >= 0.5 * flips
}
