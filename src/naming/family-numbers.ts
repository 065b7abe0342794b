import { FEWEST_PEERS } from '../math/fewest.ts'
import type { Column } from './column.ts'

/** Channel numbers of the members of one template. */
export function channelNumbers(members: readonly Column[]): { numbers: number[]; how: string } {
  const places = members[0]!.name.numbers.length
  const varying = Array.from({ length: places }, (_, p) => p).filter(
    (p) => new Set(members.map((each) => each.name.numbers[p])).size > 1,
  )
  if (varying.length === 0)
    return {
      numbers: members.map((each, at) =>
        members.length === 1 ? Math.max(1, each.name.numbers.at(-1)!) : at + 1,
      ),
      how: '',
    }
  const last = varying[varying.length - 1]!
  const own = members.map((each) => each.name.numbers[last]!)
  if (new Set(own).size === members.length) {
    const least = Math.min(...own)
    const step = evenStep(own)
    if (varying.length === 1 && step > 1)
      return {
        numbers: own.map((number) => (number - least) / step + 1),
        how: `; numbered in steps of ${step} there`,
      }
    if (varying.length === 1 || running(own)) {
      // From 0: one up. From far above 1 (cells 101 …): from 1. Gaps stay gaps.
      const shift = least === 0 ? 1 : least > 1 && least >= members.length ? 1 - least : 0
      return {
        numbers: own.map((number) => number + shift),
        how: shift === 1 ? '; numbered from 0 there' : shift < 0 ? `; numbered from ${least} there` : '',
      }
    }
  }
  // Box and cell, module and cell: by the first number, then the next.
  const rows = members.map((each, at) => ({ at, key: varying.map((p) => each.name.numbers[p]!) }))
  const firsts = [...new Set(rows.map((row) => row.key[0]!))].sort((a, b) => a - b)
  closeAlikeHoles(rows)
  const inner = rows.map((row) => row.key[row.key.length - 1]!)
  const leastInner = Math.min(...inner)
  const counts = firsts.map(
    (first) =>
      Math.max(...rows.filter((row) => row.key[0] === first).map((row) => row.key[row.key.length - 1]!)) -
      leastInner +
      1,
  )
  if (varying.length === 2) {
    const before = firsts.map((_, at) => counts.slice(0, at).reduce((sum, count) => sum + count, 0))
    const numbers = rows.map((row) => before[firsts.indexOf(row.key[0]!)]! + row.key[1]! - leastInner + 1)
    return { numbers, how: `; numbered on through ${firsts.length} modules or boxes` }
  }
  const sorted = [...rows].sort((a, b) => {
    for (let k = 0; k < a.key.length; k++) if (a.key[k] !== b.key[k]) return a.key[k]! - b.key[k]!
    return 0
  })
  const numbers = new Array<number>(members.length)
  sorted.forEach((row, rank) => {
    numbers[row.at] = rank + 1
  })
  return { numbers, how: '; numbered in the order of their boxes and modules' }
}

/** `0, 2, 4, 6`: addresses of boxes rather than places; 1 where the numbers do not go up evenly. */
function evenStep(numbers: readonly number[]): number {
  const up = [...numbers].sort((a, b) => a - b)
  const step = (up[1] ?? 0) - up[0]!
  return up.length >= FEWEST_PEERS && up.every((number, at) => number === up[0]! + at * step) ? step : 1
}

interface Row {
  readonly key: number[]
}

/**
 * Inputs that no module uses, the same in each of them (a unit for twelve cells on modules of ten): no cell is missing
 * there, and those after them move up.
 */
function closeAlikeHoles(rows: readonly Row[]): void {
  const places = new Map<string, number[]>()
  for (const { key } of rows) {
    const module = key.slice(0, -1).join('|')
    places.set(
      module,
      [...(places.get(module) ?? []), key[key.length - 1]!].sort((a, b) => a - b),
    )
  }
  const [first, ...others] = [...places.values()]
  if (others.length === 0 || others.some((each) => each.join() !== first!.join())) return
  for (const { key } of rows) key[key.length - 1] = first!.indexOf(key[key.length - 1]!) + first![0]!
}

/** Does a number run on from box to box (1 … 96 over all), rather than start anew in each? */
function running(numbers: readonly number[]): boolean {
  return Math.max(...numbers) - Math.min(...numbers) < 2 * numbers.length
}
