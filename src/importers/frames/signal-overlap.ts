import { LogError } from '../../errors.ts'
import { type Field, identifierText, type Signal } from './signal.ts'

/**
 * The table as a whole: no name twice, no bit of a frame in two signals that can be there at once. Signals of
 * different selector values never meet; a plain signal that reads the selector itself may share its bits.
 * @throws LogError naming the row
 */
export function checkSignals(table: string, signals: readonly Signal[]): void {
  const names = new Map<string, Signal>()
  const frames = new Map<number, Signal[]>()
  for (const signal of signals) {
    const twin = names.get(signal.name.toLowerCase())
    if (twin)
      throw new LogError(
        'signals',
        `${table}: row ${signal.row}: the name "${signal.name}" is already that of row ${twin.row}; each name may stand once.`,
      )
    names.set(signal.name.toLowerCase(), signal)
    if (signal.selector && meet(signal.selector.field, signal))
      throw new LogError(
        'signals',
        `${table}: row ${signal.row} ("${signal.name}") overlaps the selector that chooses it.`,
      )
    const peers = frames.get(signal.key) ?? []
    for (const peer of peers) checkPair(table, peer, signal)
    peers.push(signal)
    frames.set(signal.key, peers)
  }
}

function checkPair(table: string, first: Signal, second: Signal): void {
  const clash = (what: string): never => {
    throw new LogError(
      'signals',
      `${table}: row ${second.row} ("${second.name}") overlaps ${what} in frame ${identifierText(second.key)}.`,
    )
  }
  if (canMeet(first, second) && meet(first, second)) clash(`row ${first.row} ("${first.name}")`)
  for (const [chosen, other] of [
    [first, second],
    [second, first],
  ] as const) {
    const selector = chosen.selector?.field
    if (!selector || !canMeet(chosen, other) || same(selector, other)) continue
    if (meet(selector, other)) clash(`the selector of row ${chosen.row} ("${chosen.name}")`)
  }
}

function canMeet(a: Signal, b: Signal): boolean {
  if (!a.selector || !b.selector) return true
  return same(a.selector.field, b.selector.field) && a.selector.value === b.selector.value
}

const same = (a: Field, b: Field): boolean =>
  a.startBit === b.startBit && a.length === b.length && a.byteOrder === b.byteOrder

function meet(a: Field, b: Field): boolean {
  const taken = new Set(bits(a))
  return bits(b).some((bit) => taken.has(bit))
}

/** Bit numbers (8 · byte + bit, 0 the lowest) of a field. */
function bits(field: Field): number[] {
  const all: number[] = []
  let bit = field.startBit
  for (let i = 0; i < field.length; i++) {
    all.push(bit)
    if (field.byteOrder === 'little') bit++
    else bit = (bit & 7) === 0 ? bit + 15 : bit - 1
  }
  return all
}
