/**
 * Numbers identifiers 0, 1, 2 … as they come. A key is the identifier with bit 31 set when extended (so negative).
 * Standard ones by direct look-up, extended ones by open addressing. Stops at `LIMIT` identifiers, so that a
 * damaged log cannot fill the memory.
 */
const LIMIT = 1 << 16

export class FrameIdentifiers {
  readonly keys: number[] = []
  readonly #standard = new Int32Array(2048).fill(-1)
  #slots = new Int32Array(1024).fill(-1)
  #slotKeys = new Int32Array(1024)
  #extended = 0

  /** The key's number; −1 where there are too many. */
  numberOf(key: number): number {
    if (key >= 0) {
      const known = this.#standard[key & 2047]!
      return known >= 0 ? known : this.#addStandard(key & 2047)
    }
    const mask = this.#slots.length - 1
    let slot = (Math.imul(key, 0x9e3779b1) >>> 12) & mask
    while (this.#slots[slot]! >= 0) {
      if (this.#slotKeys[slot] === key) return this.#slots[slot]!
      slot = (slot + 1) & mask
    }
    return this.#addExtended(key, slot)
  }

  #addStandard(key: number): number {
    const number = this.keys.push(key) - 1
    this.#standard[key] = number
    return number
  }

  #addExtended(key: number, slot: number): number {
    if (this.keys.length >= LIMIT) return -1
    const number = this.keys.push(key) - 1
    this.#slots[slot] = number
    this.#slotKeys[slot] = key
    if (++this.#extended * 2 > this.#slots.length) this.#grow()
    return number
  }

  #grow(): void {
    const old = this.#slots
    const oldKeys = this.#slotKeys
    this.#slots = new Int32Array(old.length * 2).fill(-1)
    this.#slotKeys = new Int32Array(old.length * 2)
    const mask = this.#slots.length - 1
    for (let i = 0; i < old.length; i++) {
      if (old[i]! < 0) continue
      let slot = (Math.imul(oldKeys[i]!, 0x9e3779b1) >>> 12) & mask
      while (this.#slots[slot]! >= 0) slot = (slot + 1) & mask
      this.#slots[slot] = old[i]!
      this.#slotKeys[slot] = oldKeys[i]!
    }
  }
}
