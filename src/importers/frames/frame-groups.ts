import { BOUNDS } from '../../../shared/bounds.ts'
import type { Field, Signal } from './signal.ts'
import { extractSignal, type Place, placeOf, readField, turnRound } from './signal-extract.ts'

const BLOCK = 1024

/**
 * Signals that come together: same identifier, same selector value. They share one time base. Payloads are staged
 * in a small block; a full block is decoded signal by signal, each in one tight loop.
 *
 *     count()   first walk: how many frames
 *     bound()   at most so many
 *     allocate  exact
 *     take()    second walk: stage time and payload
 *     flush()   decode what is staged
 */
export class FrameGroup {
  readonly signals: readonly Signal[]
  frames = 0
  timeS = new Float64Array(0)
  values: Float64Array[] = []
  /** Samples that were an invalid raw value, by signal. */
  readonly invalid: Int32Array
  /** Frames too short for all signals of the group. */
  short = 0
  readonly #places: readonly Place[]
  readonly #bytes: number
  readonly #stride: number
  readonly #turns: boolean
  #words = new Uint32Array(0)
  #turned = new Uint32Array(0)
  #lengths = new Uint8Array(0)
  #shortInBlock = false
  #from = 0
  #staged = 0

  constructor(signals: readonly Signal[]) {
    this.signals = signals
    this.invalid = new Int32Array(signals.length)
    this.#places = signals.map(placeOf)
    this.#bytes = Math.max(...this.#places.map((place) => place.bytes))
    this.#stride = Math.max(2, (this.#bytes + 3) >> 2)
    this.#turns = signals.some((signal) => signal.byteOrder === 'big')
  }

  /** Frames past the bound are left out. @returns how many */
  bound(): number {
    const beyond = Math.max(0, this.frames - BOUNDS.rows)
    this.frames -= beyond
    return beyond
  }

  allocate(): void {
    this.timeS = new Float64Array(this.frames)
    this.values = this.signals.map(() => new Float64Array(this.frames))
    const block = Math.min(BLOCK, Math.max(1, this.frames))
    this.#words = new Uint32Array(block * this.#stride)
    if (this.#turns) this.#turned = new Uint32Array(block * this.#stride)
    this.#lengths = new Uint8Array(block)
  }

  take(ownS: number, bytes: DataView, at: number, length: number): void {
    const row = this.#from + this.#staged
    if (row >= this.frames) return
    // a channel's time never falls: frames that a recorder wrote out of order move up to the one before
    this.timeS[row] = row > 0 && ownS < this.timeS[row - 1]! ? this.timeS[row - 1]! : ownS
    const to = this.#staged * this.#stride
    if (length >= 8 && this.#stride === 2) {
      this.#words[to] = bytes.getInt32(at, true)
      this.#words[to + 1] = bytes.getInt32(at + 4, true)
    } else {
      const words = this.#words
      for (let w = 0; w < this.#stride; w++) {
        let word = 0
        for (let k = 0; k < 4; k++) {
          const byte = w * 4 + k
          if (byte < length) word |= bytes.getUint8(at + byte) << (8 * k)
        }
        words[to + w] = word
      }
    }
    this.#lengths[this.#staged] = length
    if (length < this.#bytes) {
      this.#shortInBlock = true
      this.short++
    }
    if (++this.#staged === this.#lengths.length) this.flush()
  }

  flush(): void {
    const count = this.#staged
    if (count === 0) return
    if (this.#turns) turnRound(this.#words, this.#turned, count * this.#stride)
    for (let s = 0; s < this.signals.length; s++) {
      const signal = this.signals[s]!
      const place = this.#places[s]!
      const words = signal.byteOrder === 'big' ? this.#turned : this.#words
      const out = this.values[s]!
      this.invalid[s]! += extractSignal(signal, place, words, this.#stride, count, out, this.#from)
      if (this.#shortInBlock)
        for (let i = 0; i < count; i++) if (this.#lengths[i]! < place.bytes) out[this.#from + i] = Number.NaN
    }
    this.#from += count
    this.#staged = 0
    this.#shortInBlock = false
  }
}

/** The groups of one identifier: one without selector, and per selector field one for each of its values. */
export class FrameRoute {
  readonly always: FrameGroup | null
  readonly selected: readonly { readonly field: Field; readonly byValue: ReadonlyMap<number, FrameGroup> }[]
  /** Some of the groups are there only for a selector's value. */
  readonly selects: boolean
  readonly groups: readonly FrameGroup[]

  constructor(signals: readonly Signal[]) {
    const plain = signals.filter((signal) => !signal.selector)
    this.always = plain.length > 0 ? new FrameGroup(plain) : null
    const fields = new Map<string, { field: Field; members: Map<number, Signal[]> }>()
    for (const signal of signals) {
      if (!signal.selector) continue
      const { field, value } = signal.selector
      const name = `${field.startBit}/${field.length}/${field.byteOrder}`
      const entry = fields.get(name) ?? { field, members: new Map() }
      entry.members.set(value, [...(entry.members.get(value) ?? []), signal])
      fields.set(name, entry)
    }
    this.selected = [...fields.values()].map(({ field, members }) => ({
      field,
      byValue: new Map([...members].map(([value, group]) => [value, new FrameGroup(group)])),
    }))
    this.selects = this.selected.length > 0
    this.groups = [
      ...(this.always ? [this.always] : []),
      ...this.selected.flatMap(({ byValue }) => [...byValue.values()]),
    ]
  }

  /** The groups, beside `always`, that this frame carries. */
  chosen(bytes: DataView, at: number, length: number, use: (group: FrameGroup) => void): boolean {
    let any = false
    for (const { field, byValue } of this.selected) {
      const group = byValue.get(readField(field, bytes, at, length))
      if (!group) continue
      any = true
      use(group)
    }
    return any
  }
}
