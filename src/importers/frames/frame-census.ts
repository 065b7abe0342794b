import type { TimelineEvent } from '../../../shared/drive.ts'
import { BusLoad } from './frame-bits.ts'
import { errorText } from './frame-errors.ts'
import { FrameRoute } from './frame-groups.ts'
import { FrameIdentifiers } from './frame-identifiers.ts'
import type { FrameBatch, FrameSink } from './frame-sink.ts'
import type { Signal } from './signal.ts'

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
  /** First payload, and 1 where later ones differed from it; kept for identifiers without signals only. */
  readonly first: Uint8Array
  readonly changing: Uint8Array
}

const MAX_EVENTS = 1000
const NONE = new Uint8Array(0)

/**
 * First walk over a frame log: counts each group's frames (so that the second can fill exact arrays), the bus load a
 * second, remote and error frames, and what no signal explains.
 */
export class FrameCensus implements FrameSink {
  readonly identifiers: IdentifierCount[] = []
  readonly load = new BusLoad()
  readonly events: TimelineEvent[] = []
  dataFrames = 0
  remoteFrames = 0
  errorFrames = 0
  /** Frames beyond the 65,536th identifier. */
  uncounted = 0
  readonly numbers = new FrameIdentifiers()
  readonly #routes = new Map<number, FrameRoute>()
  readonly #tick = (group: { frames: number }): void => {
    group.frames++
  }

  constructor(signals: readonly Signal[]) {
    const byKey = new Map<number, Signal[]>()
    for (const signal of signals) byKey.set(signal.key, [...(byKey.get(signal.key) ?? []), signal])
    for (const [key, own] of byKey) this.#routes.set(key, new FrameRoute(own))
  }

  batch(frames: FrameBatch): void {
    const { count, ownS, key, at, length, view } = frames
    this.dataFrames += count
    this.load.spendBatch(frames)
    for (let i = 0; i < count; i++) {
      const bytes = length[i]!
      const number = this.numbers.numberOf(key[i]!)
      if (number < 0) {
        this.uncounted++
        continue
      }
      const entry =
        number < this.identifiers.length ? this.identifiers[number]! : this.#open(key[i]!, ownS[i]!)
      entry.count++
      entry.lastS = ownS[i]!
      if (bytes > entry.longest) entry.longest = bytes
      const { route } = entry
      if (route === null) watch(entry, view, at[i]!, bytes)
      else {
        if (route.always) route.always.frames++
        if (route.selects && !route.chosen(view, at[i]!, bytes, this.#tick)) entry.unselected++
      }
    }
  }

  remote(ownS: number, key: number, _length: number): void {
    this.remoteFrames++
    this.load.spendRemote(ownS, key)
  }

  error(ownS: number, classes: number, bytes: DataView, at: number, length: number): void {
    this.errorFrames++
    if (this.events.length < MAX_EVENTS)
      this.events.push({
        at_s: ownS,
        what: `bus error: ${errorText(classes, bytes, at, length)}`,
        channel: null,
      })
  }

  #open(key: number, ownS: number): IdentifierCount {
    const route = this.#routes.get(key) ?? null
    const entry: IdentifierCount = {
      key,
      route,
      count: 0,
      firstS: ownS,
      lastS: ownS,
      longest: 0,
      unselected: 0,
      first: route ? NONE : new Uint8Array(64),
      changing: route ? NONE : new Uint8Array(64),
    }
    this.identifiers.push(entry)
    return entry
  }
}

function watch(entry: IdentifierCount, bytes: DataView, at: number, length: number): void {
  if (entry.count === 1) for (let k = 0; k < length; k++) entry.first[k] = bytes.getUint8(at + k)
  else for (let k = 0; k < length; k++) if (bytes.getUint8(at + k) !== entry.first[k]) entry.changing[k] = 1
}

/** Second walk: hands each data frame to its groups. */
export class FrameFill implements FrameSink {
  readonly #numbers: FrameIdentifiers
  readonly #routes: readonly (FrameRoute | null)[]

  constructor(census: FrameCensus) {
    this.#numbers = census.numbers
    this.#routes = census.identifiers.map((each) => each.route)
  }

  batch(frames: FrameBatch): void {
    const { count, ownS, key, at, length, view } = frames
    for (let i = 0; i < count; i++) {
      const number = this.#numbers.numberOf(key[i]!)
      const route = number < 0 ? null : this.#routes[number]!
      if (route === null) continue
      if (route.always) route.always.take(ownS[i]!, view, at[i]!, length[i]!)
      if (route.selects)
        route.chosen(view, at[i]!, length[i]!, (group) => group.take(ownS[i]!, view, at[i]!, length[i]!))
    }
  }

  remote(): void {}

  error(): void {}
}
