import { moduleOfCell } from '../../shared/vehicle.ts'
import type { Facts } from '../analyses/analysis.ts'
import { median, robustSpread } from '../math/stats.ts'

/** Cells that are read together with a longer busbar or cable: part of the design, not a fault. */
export interface LongLinks {
  readonly cells: ReadonlySet<number>
  /** What such a link adds, Ω: the median over them. */
  readonly extraOhm: number
  readonly spreadOhm: number
  /** Does a joint stand with the cell before it (`lower`) or after it (`upper`)? null where nothing tells. */
  readonly readWith: 'lower' | 'upper' | null
  readonly readWithFrom: 'vehicle file' | 'pattern of the long busbars' | 'unknown'
  readonly foundFrom: 'vehicle file' | 'pattern' | 'none'
}

export interface LinkReading {
  readonly cell: number
  /** Ohmic extra against peers, Ω. */
  readonly extra: number
  /** The slower parts are as in its peers. */
  readonly ohmicOnly: boolean
}

const NONE: LongLinks = {
  cells: new Set(),
  extraOhm: 0,
  spreadOhm: 0,
  readWith: null,
  readWithFrom: 'unknown',
  foundFrom: 'none',
}

/**
 * Which cells are read with a long busbar: from the vehicle file's `long_busbar_after_cells` (the cell itself or the
 * next one, whichever reads more, unless `joint_read_with` says), else each module's first or last cell where these
 * stand out together, else a pattern in the cells' numbers that repeats at an even spacing, else at least four cells
 * with the same extra within a fifth.
 *
 * One link far above the others stays a joint's fault: the extra is the median over all such cells.
 */
export function longLinks(facts: Facts, readings: readonly LinkReading[], spreadOhm: number): LongLinks {
  const said = facts.vehicle.pack?.joint_read_with ?? null
  const extraOf = new Map(readings.map((each) => [each.cell, each.extra]))
  const after = [...facts.layout.longAfter]
  if (after.length > 0) return fromPlaces(after, extraOf, said, spreadOhm, 'vehicle file')
  if (facts.layout.known) {
    const borders = facts.layout.moduleStarts.slice(1, -1).map((start) => start - 1)
    const found = fromPlaces(borders, extraOf, said, spreadOhm, 'pattern')
    if (borders.length >= 2 && found.extraOhm > 3 * spreadOhm) return found
  }
  const high = readings.filter((each) => each.extra > 4 * spreadOhm && each.ohmicOnly)
  if (high.length < 3) return { ...NONE, readWith: said, readWithFrom: said ? 'vehicle file' : 'unknown' }
  const cells = repeating(high, readings) ?? alike(high)
  if (!cells) return { ...NONE, readWith: said, readWithFrom: said ? 'vehicle file' : 'unknown' }
  return measured(cells, extraOf, said, spreadOhm, 'pattern')
}

function fromPlaces(
  after: readonly number[],
  extraOf: ReadonlyMap<number, number>,
  said: 'lower' | 'upper' | null,
  spreadOhm: number,
  foundFrom: LongLinks['foundFrom'],
): LongLinks {
  const middle = (cells: readonly number[]): number =>
    median(cells.map((cell) => extraOf.get(cell) ?? Number.NaN))
  const lower = middle(after)
  const upper = middle(after.map((cell) => cell + 1))
  const clear = Math.abs(upper - lower) > (4 * spreadOhm) / Math.sqrt(after.length)
  const guess = upper > lower ? 'upper' : 'lower'
  const readWith = said ?? (clear ? guess : null)
  const cells = after.map((cell) => ((readWith ?? guess) === 'upper' ? cell + 1 : cell))
  return {
    ...measured(cells, extraOf, said, spreadOhm, foundFrom),
    readWith,
    readWithFrom: said ? 'vehicle file' : clear ? 'pattern of the long busbars' : 'unknown',
  }
}

function measured(
  cells: readonly number[],
  extraOf: ReadonlyMap<number, number>,
  said: 'lower' | 'upper' | null,
  spreadOhm: number,
  foundFrom: LongLinks['foundFrom'],
): LongLinks {
  const extras = cells.map((cell) => extraOf.get(cell) ?? Number.NaN).filter(Number.isFinite)
  const extraOhm = Math.max(0, median(extras))
  const scatter = Math.sqrt(Math.max(0, robustSpread(extras) ** 2 - spreadOhm ** 2))
  return {
    cells: new Set(cells),
    extraOhm,
    // a few links tell little about how much such links differ: a tenth of their extra at least
    spreadOhm: Math.hypot(Math.max(scatter, 0.1 * extraOhm), (1.25 * spreadOhm) / Math.sqrt(extras.length)),
    readWith: said,
    readWithFrom: said ? 'vehicle file' : 'unknown',
    foundFrom,
  }
}

/** Cells at an even spacing, at least three, four fifths of them high; the ends of the pack may lack theirs. */
function repeating(high: readonly LinkReading[], all: readonly LinkReading[]): number[] | null {
  const isHigh = new Set(high.map((each) => each.cell))
  const last = Math.max(...all.map((each) => each.cell))
  let best: number[] | null = null
  let bestScore = 0
  for (let spacing = 3; spacing <= last / 2; spacing++)
    for (let start = 1; start <= spacing; start++) {
      const places: number[] = []
      for (let cell = start; cell <= last; cell += spacing) places.push(cell)
      while (places.length > 0 && !isHigh.has(places[0]!) && places[0]! <= spacing) places.shift()
      if (places.length > 0 && places[places.length - 1] === last && !isHigh.has(last)) places.pop()
      const hits = places.filter((cell) => isHigh.has(cell)).length
      if (hits < 3 || hits < 0.8 * places.length) continue
      const score = hits - (places.length - hits)
      if (score > bestScore) {
        bestScore = score
        best = places
      }
    }
  return best
}

/** At least four cells whose extra agrees within a fifth. */
function alike(high: readonly LinkReading[]): number[] | null {
  const middle = median(high.map((each) => each.extra))
  const same = high.filter((each) => Math.abs(each.extra - middle) < 0.2 * middle)
  return same.length >= 4 ? same.map((each) => each.cell) : null
}

/** The cells on both sides of the joint read with `cell`; null where the convention is unknown. */
export function betweenCells(
  links: LongLinks,
  cell: number,
  cells: number,
): readonly [number, number] | null {
  if (links.readWith === 'lower' && cell < cells) return [cell, cell + 1]
  if (links.readWith === 'upper' && cell > 1) return [cell - 1, cell]
  return null
}

/** Plain words for where the joint read with `cell` sits. */
export function jointPlace(facts: Facts, links: LongLinks, cell: number): string {
  const { cells } = facts.layout
  const between = betweenCells(links, cell, cells)
  const module = facts.layout.known ? ` (module ${moduleOfCell(facts.layout, cell)})` : ''
  if (between) return `the joint between cells ${between[0]} and ${between[1]}${module}`
  if (links.readWith) return `the end joint at cell ${cell}${module}`
  const candidates = [
    cell > 1 ? `${cell - 1} and ${cell}` : null,
    cell < cells ? `${cell} and ${cell + 1}` : null,
  ]
  return `the joint between cells ${candidates.filter(Boolean).join(', or between cells ')}${module}`
}
