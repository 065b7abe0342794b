import type { TimelineEvent } from '../../shared/drive.ts'
import { StraightClock } from '../drive/clock-steps.ts'
import { fdFrameBits, frameBits, worstStuffBits } from './frame-bits.ts'
import { errorText } from './frame-errors.ts'
import { FrameRoute } from './frame-groups.ts'
import { FrameIdentifiers } from './frame-identifiers.ts'
import { FD_FRAME, FD_SWITCHED, type FrameSink } from './frame-sink.ts'
import type { Signal } from './signal-table.ts'

/** What the first walk knows of one identifier. */
export interface IdentifierCount {
  readonly key: number
  readonly route: FrameRoute | null
  count: number
  firstS: number
  lastS: number
  longest: number
  /** Frames that carried a selector value which no signal names. */
  unselected: number
  /** First payload, and where later ones differed from it; kept for identifiers without signals only. */
  first: Uint8Array | null
  changing: Uint8Array | null
}

const MAX_SECONDS = 7 * 86400
const MAX_EVENTS = 1000

/**
 * First walk over a frame log: counts each group's frames (so that the second can fill exact arrays), the bus load a
 * second, remote and error frames, and what no signal explains.
 */
export class FrameCensus implements FrameSink {
  readonly identifiers: IdentifierCount[] = []
  readonly clock = new StraightClock()
  readonly events: TimelineEvent[] = []
  dataFrames = 0
  fdFrames = 0
  remoteFrames = 0
  errorFrames = 0
  /** Frames beyond the 65,536th identifier. */
  uncounted = 0
  firstS = Number.NaN
  lastS = Number.NaN
  readonly numbers = new FrameIdentifiers()
  readonly #routes = new Map<number, FrameRoute>()
  #bits = new Float64Array(4096)
  #stuff = new Float64Array(4096)
  readonly #tick = (group: { frames: number }): void => {
    group.frames++
  }

  constructor(signals: readonly Signal[]) {
    const byKey = new Map<number, Signal[]>()
    for (const signal of signals) byKey.set(signal.key, [...(byKey.get(signal.key) ?? []), signal])
    for (const [key, own] of byKey) this.#routes.set(key, new FrameRoute(own))
  }

  /** Nominal bits in each second since the first frame. */
  bitsPerSecond(): Float64Array {
    return this.#bits.subarray(0, this.#seconds())
  }

  /** The same with as many stuff bits as can be. */
  worstBitsPerSecond(): Float64Array {
    return this.#bits.map((bits, second) => bits + this.#stuff[second]!).subarray(0, this.#seconds())
  }

  #seconds(): number {
    return Math.min(MAX_SECONDS, Math.floor(this.lastS - this.firstS) + 1) || 0
  }

  data(rawS: number, key: number, flags: number, bytes: Uint8Array, at: number, length: number): void {
    const ownS = this.clock.next(rawS)
    const entry = this.#entry(key)
    this.dataFrames++
    const extended = key < 0
    if ((flags & FD_FRAME) === 0)
      this.#spend(ownS, frameBits(extended, length), worstStuffBits(extended, length))
    else {
      this.fdFrames++
      this.#spend(ownS, fdFrameBits(extended, length, (flags & FD_SWITCHED) !== 0), 0)
    }
    if (!entry) {
      this.uncounted++
      return
    }
    if (entry.count++ === 0) entry.firstS = ownS
    entry.lastS = ownS
    if (length > entry.longest) entry.longest = length
    const { route } = entry
    if (route === null) this.#watch(entry, bytes, at, length)
    else {
      if (route.always) route.always.frames++
      if (route.selected.length > 0 && !route.chosen(bytes, at, length, this.#tick)) entry.unselected++
    }
  }

  remote(rawS: number, key: number, _length: number): void {
    this.remoteFrames++
    this.#spend(this.clock.next(rawS), frameBits(key < 0, 0), worstStuffBits(key < 0, 0))
  }

  error(rawS: number, classes: number, bytes: Uint8Array, at: number, length: number): void {
    const ownS = this.clock.next(rawS)
    this.#note(ownS)
    this.errorFrames++
    if (this.events.length >= MAX_EVENTS) return
    this.events.push({
      at_s: ownS,
      what: `bus error: ${errorText(classes, bytes, at, length)}`,
      channel: null,
    })
  }

  #entry(key: number): IdentifierCount | null {
    const number = this.numbers.numberOf(key)
    if (number < 0) return null
    return this.identifiers[number] ?? this.#open(key)
  }

  #open(key: number): IdentifierCount {
    const route = this.#routes.get(key) ?? null
    const entry: IdentifierCount = {
      key,
      route,
      count: 0,
      firstS: 0,
      lastS: 0,
      longest: 0,
      unselected: 0,
      first: null,
      changing: null,
    }
    this.identifiers.push(entry)
    return entry
  }

  #watch(entry: IdentifierCount, bytes: Uint8Array, at: number, length: number): void {
    if (!entry.first || !entry.changing) {
      entry.first = bytes.slice(at, at + length)
      entry.changing = new Uint8Array(64)
      return
    }
    for (let k = 0; k < length; k++) if (bytes[at + k] !== entry.first[k]) entry.changing[k] = 1
  }

  #note(ownS: number): void {
    if (!(this.firstS <= ownS)) this.firstS = ownS
    if (!(this.lastS >= ownS)) this.lastS = ownS
  }

  #spend(ownS: number, bits: number, stuff: number): void {
    this.#note(ownS)
    const second = Math.floor(ownS - this.firstS)
    if (second >= MAX_SECONDS) return
    if (second >= this.#bits.length) {
      const length = Math.min(MAX_SECONDS, Math.max(second + 1, this.#bits.length * 2))
      this.#bits = widened(this.#bits, length)
      this.#stuff = widened(this.#stuff, length)
    }
    this.#bits[second]! += bits
    this.#stuff[second]! += stuff
  }
}

function widened(values: Float64Array, length: number): Float64Array<ArrayBuffer> {
  const wider = new Float64Array(length)
  wider.set(values)
  return wider
}

/** Second walk: hands each data frame to its groups. */
export class FrameFill implements FrameSink {
  readonly #clock = new StraightClock()
  readonly #routes: (FrameRoute | null)[]
  readonly #census: FrameCensus

  constructor(census: FrameCensus) {
    this.#census = census
    this.#routes = census.identifiers.map((each) => each.route)
  }

  data(rawS: number, key: number, _flags: number, bytes: Uint8Array, at: number, length: number): void {
    const ownS = this.#clock.next(rawS)
    const number = this.#census.numbers.numberOf(key)
    if (number < 0) return
    const route = this.#routes[number]
    if (!route) return
    if (route.always) route.always.take(ownS, bytes, at, length)
    if (route.selected.length > 0)
      route.chosen(bytes, at, length, (group) => group.take(ownS, bytes, at, length))
  }

  remote(rawS: number): void {
    this.#clock.next(rawS)
  }

  error(rawS: number): void {
    this.#clock.next(rawS)
  }
}
