import { moduleOfCell } from '../../../shared/vehicle.ts'
import type { Facts } from '../../facts/facts.ts'
import { median, robustSpread } from '../../math/stats.ts'

/** Cells that are read together with a longer busbar or cable: part of the design, not a fault. */
export interface LongLinks {
  readonly cells: ReadonlySet<number>
  /** What such a link adds, Ω: the (lower) median over them. */
  readonly extraOhm: number
  /** How far one such link may differ from that by design, Ω: more where it leads from box to box. */
  readonly spreadOhm: (cell: number) => number
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

/** A longer link as it is usual: about 0.7 m of 50 mm² copper, Ω. */
const USUAL_LINK_OHM = 2.5e-4

const NONE: LongLinks = {
  cells: new Set(),
  extraOhm: 0,
  spreadOhm: () => 0,
  readWith: null,
  readWithFrom: 'unknown',
  foundFrom: 'none',
}

/**
 * Which cells are read with a long busbar: from the vehicle file's `long_busbar_after_cells` (the cell itself or the
 * next one, whichever reads more, unless `joint_read_with` says), else each module's first or last cell where these
 * stand out together, else a pattern in the cells' numbers: the borders of equal modules, an even spacing, or at least
 * four cells with the same extra.
 *
 * One link far above the others stays a joint's fault: the extra is the median over all such cells.
 */
export function longLinks(facts: Facts, readings: readonly LinkReading[], spreadOhm: number): LongLinks {
  const said = facts.vehicle.pack?.joint_read_with ?? null
  const extraOf = new Map(readings.map((each) => [each.cell, each.extra]))
  const after = [...facts.layout.longAfter]
  if (after.length > 0) return fromPlaces(facts, after, extraOf, said, spreadOhm, 'vehicle file')
  if (facts.layout.known) {
    const borders = facts.layout.moduleStarts.slice(1, -1).map((start) => start - 1)
    const found = fromPlaces(facts, borders, extraOf, said, spreadOhm, 'pattern')
    const high = [...found.cells].filter((cell) => extraOf.get(cell)! > 2.5 * spreadOhm)
    const together = high.length >= 2 && high.length >= 0.7 * found.cells.size
    if (together && found.extraOhm > 3 * spreadOhm) return found
  }
  const even = facts.layout.known ? null : evenModules(readings, spreadOhm)
  if (even) return measured(facts, even, extraOf, said, spreadOhm, 'pattern')
  const high = readings.filter((each) => each.extra > 4 * spreadOhm && each.ohmicOnly)
  if (high.length < 3) return { ...NONE, readWith: said, readWithFrom: said ? 'vehicle file' : 'unknown' }
  const spaced = repeating(high, readings) ?? []
  const same = alike(high, spreadOhm) ?? []
  const explained = (cells: readonly number[]): number =>
    high.filter((each) => cells.includes(each.cell)).length
  const better = explained(same) > explained(spaced) ? same : spaced
  const cells = better.length > 0 ? better : null
  if (!cells) return { ...NONE, readWith: said, readWithFrom: said ? 'vehicle file' : 'unknown' }
  return measured(facts, cells, extraOf, said, spreadOhm, 'pattern')
}

function fromPlaces(
  facts: Facts,
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
    ...measured(facts, cells, extraOf, said, spreadOhm, foundFrom),
    readWith,
    readWithFrom: said ? 'vehicle file' : clear ? 'pattern of the long busbars' : 'unknown',
  }
}

function measured(
  facts: Facts,
  cells: readonly number[],
  extraOf: ReadonlyMap<number, number>,
  said: 'lower' | 'upper' | null,
  spreadOhm: number,
  foundFrom: LongLinks['foundFrom'],
): LongLinks {
  const extras = cells.map((cell) => extraOf.get(cell) ?? Number.NaN).filter(Number.isFinite)
  // the lower median: of two links the better one is the design
  const middle = Math.max(0, [...extras].sort((a, b) => a - b)[(extras.length - 1) >> 1] ?? 0)
  // one link has no peers: no more than a usual one is taken for design
  const extraOhm = extras.length === 1 ? Math.min(middle, USUAL_LINK_OHM) : middle
  const scatter = extras.length >= 4 ? Math.sqrt(Math.max(0, robustSpread(extras) ** 2 - spreadOhm ** 2)) : 0
  // a few links tell little about how much such links differ: some share of their extra at least
  const own = extras.length === 1 ? 0.4 * USUAL_LINK_OHM : 0.15 * extraOhm
  const usual = Math.hypot(Math.max(scatter, own), (1.25 * spreadOhm) / Math.sqrt(extras.length))
  const between = Math.max(0.3 * extraOhm, 3e-5)
  return {
    cells: new Set(cells),
    extraOhm,
    spreadOhm: (cell) => (crossesBoxes(facts, cell) ? Math.hypot(usual, between) : usual),
    readWith: said,
    readWithFrom: said ? 'vehicle file' : 'unknown',
    foundFrom,
  }
}

/** Does a border between boxes stand beside this cell? A cable there may be longer than the others. */
function crossesBoxes(facts: Facts, cell: number): boolean {
  const boxes = facts.vehicle.pack?.box_of_module
  if (!boxes) return false
  const box = (at: number): string | undefined => boxes[moduleOfCell(facts.layout, at) - 1]
  return [cell - 1, cell + 1].some((at) => at >= 1 && at <= facts.layout.cells && box(at) !== box(cell))
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

/** At least four cells whose extra is alike, give or take a half. */
function alike(high: readonly LinkReading[], spreadOhm: number): number[] | null {
  const middle = median(high.map((each) => each.extra))
  const near = Math.max(0.45 * middle, 2.5 * spreadOhm)
  const same = high.filter((each) => Math.abs(each.extra - middle) < near)
  return same.length >= 4 ? same.map((each) => each.cell) : null
}

/**
 * Last or first cells of equal modules: for each way to cut the pack into three or more equal modules of at least four
 * cells, do the border cells together read high, each of them and by the same amount? The clearest cut is taken.
 */
function evenModules(all: readonly LinkReading[], spreadOhm: number): number[] | null {
  const extraOf = new Map(all.map((each) => [each.cell, each]))
  const last = Math.max(...all.map((each) => each.cell))
  let best: number[] | null = null
  let clearest = 36
  for (let size = 4; size <= last / 3; size++) {
    if (last % size !== 0) continue
    for (const first of [size, size + 1]) {
      const places = Array.from({ length: last / size - 1 }, (_, j) => first + j * size)
      const extras = places.map((cell) => extraOf.get(cell)?.extra ?? Number.NaN).filter(Number.isFinite)
      const middle = [...extras].sort((a, b) => a - b)[(extras.length - 1) >> 1] ?? 0
      const low = extras.filter((extra) => extra < 1.5 * spreadOhm).length
      const near = Math.max(0.35 * middle, 2.5 * spreadOhm)
      const apart = extras.filter((extra) => Math.abs(extra - middle) > near).length
      if (extras.length < 2 || low > extras.length / 6 || apart > Math.max(1, extras.length / 4)) continue
      const clear = (extras.length * middle ** 2) / spreadOhm ** 2
      if (clear > clearest) {
        clearest = clear
        best = places
      }
    }
  }
  return best
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
