import type { Kind } from '../../shared/kinds.ts'
import type { Also, Finding } from '../../shared/review.ts'
import type { PackLayout } from '../../shared/vehicle.ts'
import { plainClause, sentence } from '../../shared/wording.ts'

/** Kinds whose findings can stand in one pattern over the modules of a pack. */
const FOLDED: readonly Kind[] = ['cell-imbalance', 'sense-lead-offset']
/** Fewer findings than this are told one by one. Common practice, no source. */
const LEAST = 4
/** Share of the modules in which a place must show for it to be part of the pattern. Common practice, no source. */
const SHARE = 0.6
/** How many cells the places of a pattern may be of a module's: over half is not a pattern but the pack. */
const MOST_PLACES = 0.5
const LEAST_MODULES = 3
const SIZES = Array.from({ length: 21 }, (_, at) => at + 4)

/**
 * Findings of one kind and sign that come back at the same places of every module are one finding: the worst of them,
 * with the others in `also`. Cells that do not stand in the pattern keep findings of their own.
 */
export function foldPatterns(findings: readonly Finding[], layout: PackLayout): Finding[] {
  let left = [...findings]
  for (const size of moduleSizes(layout)) left = foldedBy(left, size, Math.round(layout.cells / size))
  return left
}

/** Cells a module: the vehicle file's where all modules are alike; where it gives none, what divides the pack. */
function moduleSizes({ known, moduleStarts, cells }: PackLayout): number[] {
  if (!known) return SIZES.filter((size) => cells % size === 0 && cells / size >= LEAST_MODULES)
  const sizes = moduleStarts.slice(1).map((start, at) => start - moduleStarts[at]!)
  const [size = 0] = sizes
  return sizes.length >= LEAST_MODULES && size >= SIZES[0]! && sizes.every((each) => each === size)
    ? [size]
    : []
}

function foldedBy(findings: readonly Finding[], size: number, modules: number): Finding[] {
  let left = [...findings]
  for (const kind of FOLDED)
    for (const sign of [1, -1]) {
      const alike = left.filter(
        (each) =>
          each.kind === kind && Math.sign(each.value ?? 0) === sign && each.subject.index !== undefined,
      )
      const placeOf = (each: Finding): number => (each.subject.index! - 1) % size
      const places = Array.from({ length: size }, (_, place) => place).filter(
        (place) => alike.filter((each) => placeOf(each) === place).length >= SHARE * modules,
      )
      const inPattern = alike.filter((each) => places.includes(placeOf(each)))
      if (inPattern.length < LEAST || places.length > MOST_PLACES * size) continue
      const worst = inPattern.reduce((a, b) => (worse(b, a) ? b : a))
      left = left.filter((each) => each === worst || !inPattern.includes(each))
      left = left.map((each) => (each === worst ? folded(worst, inPattern, placesText(places, size)) : each))
    }
  return left
}

const RANK = { stop: 0, attention: 1, note: 2 } as const

const worse = (a: Finding, b: Finding): boolean =>
  RANK[a.severity] - RANK[b.severity] < 0 ||
  (a.severity === b.severity && Math.abs(a.value ?? 0) > Math.abs(b.value ?? 0))

function folded(worst: Finding, all: readonly Finding[], places: string): Finding {
  const others = all.filter((each) => each !== worst).sort((a, b) => a.subject.index! - b.subject.index!)
  return {
    ...worst,
    headline: `${plainClause(worst.headline)}; ${others.length} more stand alike, ${places}.`,
    reason: `${sentence(worst.reason)} The same places of every module stand off the same way: that is how the pack is built, read or balanced more likely than so many single faults.`,
    also: others.map(
      ({ subject, value, low, high, plus_minus }): Also => ({ subject, value, low, high, plus_minus }),
    ),
  }
}

/** "the last 3 cells of every 10", "cells 2 and 5 of every 10". */
function placesText(places: readonly number[], size: number): string {
  const run = places.every((place, at) => at === 0 || place === places[at - 1]! + 1)
  const count = places.length === 1 ? 'cell' : `${places.length} cells`
  if (run && places[0] === 0) return `the first ${count} of every ${size}`
  if (run && places.at(-1) === size - 1) return `the last ${count} of every ${size}`
  const names = places
    .map((place) => place + 1)
    .join(', ')
    .replace(/, (\d+)$/, ' and $1')
  return `cell${places.length === 1 ? '' : 's'} ${names} of every ${size}`
}
