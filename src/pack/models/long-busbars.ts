import { moduleOfCell } from '../../../shared/vehicle.ts'
import type { Facts } from '../../facts/facts.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { type LoneLink, loneLinks } from './lone-links.ts'

/** Fewer links show no scatter of their own; no source. */
const FEWEST_FOR_SCATTER = 4
/** Fewer long links make no pattern; no source. */
const FEWEST_HITS = 3

/** Cells that are read together with a longer busbar or cable: part of the design, not a fault. */
export interface LongLinks {
  readonly cells: ReadonlySet<number>
  /** What such a link adds, Ω: the (lower) median over them. */
  readonly extraOhm: number
  /** How far one such link may differ from that by design, Ω. */
  readonly spreadOhm: number
  /** Does a joint stand with the cell before it (`lower`) or after it (`upper`)? null where nothing tells. */
  readonly readWith: 'lower' | 'upper' | null
  readonly readWithFrom: 'vehicle file' | 'pattern of the long busbars' | 'unknown'
  readonly foundFrom: 'vehicle file' | 'pattern' | 'none'
  /** The places are an even row, or the borders of known modules: one that is longer may lead from box to box. */
  readonly borders: boolean
  /** Links without peers, by the cell that they are read with: in no group, judged by themselves. */
  readonly alone: ReadonlyMap<number, LoneLink>
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
/** More than about 1.2 m of 50 mm² between modules of one box is no longer taken for design because others are alike, Ω. */
const MOST_LINK_OHM = 4e-4

const NONE: LongLinks = {
  cells: new Set(),
  extraOhm: 0,
  spreadOhm: 0,
  readWith: null,
  readWithFrom: 'unknown',
  foundFrom: 'none',
  borders: false,
  alone: new Map(),
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
  const lone = loneLinks(facts)
  const apart = new Set(lone.map((each) => each.afterCell))
  const found = peersOf(facts, readings, spreadOhm, apart)
  if (lone.length === 0) return found
  const extraOf = new Map(readings.map((each) => [each.cell, each.extra]))
  const more = (cell: number): number => extraOf.get(cell) ?? Number.NEGATIVE_INFINITY
  const cellOf = (after: number): number => {
    const upper = found.readWith ? found.readWith === 'upper' : more(after + 1) > more(after)
    return upper ? after + 1 : after
  }
  return { ...found, alone: new Map(lone.map((each) => [cellOf(each.afterCell), each])) }
}

/** @param apart cells that are followed by a link without peers */
function peersOf(
  facts: Facts,
  all: readonly LinkReading[],
  spreadOhm: number,
  apart: ReadonlySet<number>,
): LongLinks {
  const said = facts.vehicle.pack?.joint_read_with ?? null
  const readings = all.filter(({ cell }) => !apart.has(cell) && !apart.has(cell - 1))
  const extraOf = new Map(all.map((each) => [each.cell, each.extra]))
  const after = [...facts.layout.longAfter].filter((cell) => !apart.has(cell))
  if (after.length > 0) return fromPlaces(after, extraOf, said, spreadOhm, 'vehicle file')
  const borders = facts.layout.moduleStarts
    .slice(1, -1)
    .map((start) => start - 1)
    .filter((cell) => !apart.has(cell))
  if (facts.layout.known && borders.length > 0) {
    const found = fromPlaces(borders, extraOf, said, spreadOhm, 'pattern')
    const high = [...found.cells].filter((cell) => extraOf.get(cell)! > 2.5 * spreadOhm)
    const together = high.length >= 2 && high.length >= 0.7 * found.cells.size
    if (together && found.extraOhm > 3 * spreadOhm) return found
  }
  const even = facts.layout.known ? null : evenModules(readings, spreadOhm)
  if (even) return { ...measured(even, extraOf, said, spreadOhm, 'pattern'), borders: true }
  const high = readings.filter((each) => each.extra > 4 * spreadOhm && each.ohmicOnly)
  const none = {
    ...NONE,
    readWith: said,
    readWithFrom: said ? ('vehicle file' as const) : ('unknown' as const),
  }
  if (high.length < 2) return none
  const spaced = (high.length > 2 ? repeating(high, readings) : null) ?? []
  const same = alike(high, spreadOhm, facts.layout.cells) ?? []
  const explained = (cells: readonly number[]): number =>
    high.filter((each) => cells.includes(each.cell)).length
  const rather = explained(same) > explained(spaced)
  const cells = rather ? same : spaced
  if (cells.length === 0) return none
  return { ...measured(cells, extraOf, said, spreadOhm, 'pattern'), borders: !rather }
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
    borders: true,
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
  // the lower median: of two links the better one is the design
  const middle = Math.max(0, [...extras].sort((a, b) => a - b)[(extras.length - 1) >> 1] ?? 0)
  // one link has no peers: no more than a usual one is taken for design
  const extraOhm = extras.length === 1 ? Math.min(middle, USUAL_LINK_OHM) : middle
  const scatter =
    extras.length >= FEWEST_FOR_SCATTER
      ? Math.sqrt(Math.max(0, robustSpread(extras) ** 2 - spreadOhm ** 2))
      : 0
  // a few links tell little about how much such links differ: some share of their extra at least
  const own = extras.length === 1 ? 0.4 * USUAL_LINK_OHM : 0.15 * extraOhm
  const usual = Math.hypot(Math.max(scatter, own), (1.25 * spreadOhm) / Math.sqrt(extras.length))
  return {
    cells: new Set(cells),
    extraOhm,
    spreadOhm: usual,
    readWith: said,
    readWithFrom: said ? 'vehicle file' : 'unknown',
    foundFrom,
    borders: false,
    alone: new Map(),
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
      if (hits < FEWEST_HITS || hits < 0.8 * places.length) continue
      const score = hits - (places.length - hits)
      if (score > bestScore) {
        bestScore = score
        best = places
      }
    }
  return best
}

/** Places that are alike by design: at least so many, or two at borders of one way to cut the pack evenly. */
const ALIKE = 3

/**
 * Cells whose extra is the same: four give or take a half, three give or take a quarter, two only where both stand at
 * borders of equal modules. Faults of the same size at several places are rarer than busbars of one kind.
 */
function alike(high: readonly LinkReading[], spreadOhm: number, cells: number): number[] | null {
  const middle = median(high.map((each) => each.extra))
  const within = (share: number): LinkReading[] => {
    const near = Math.max(share * middle, 2.5 * spreadOhm)
    return high.filter((each) => Math.abs(each.extra - middle) < near)
  }
  const many = within(0.45)
  if (many.length > ALIKE) return many.map((each) => each.cell)
  const few = within(0.25)
  const enough = few.length === ALIKE || (few.length === 2 && high.length === 2 && evenlyCut(few, cells))
  return enough && middle < MOST_LINK_OHM ? few.map((each) => each.cell) : null
}

/** Do both stand at the end, or both at the beginning, of equal modules of at least four cells? */
function evenlyCut(pair: readonly LinkReading[], cells: number): boolean {
  for (let size = 4; size <= cells / 3; size++)
    for (const shift of [0, 1])
      if (cells % size === 0 && pair.every(({ cell }) => (cell - shift) % size === 0 && cell > shift))
        return true
  return false
}

/** Sum of the borders' squared extras, in spreads, from which on a cut of the pack shows. */
const CLEAR = 20
/** So many of the borders may add more than the others: cables between three boxes at most. */
const MOST_CABLES = 2

/**
 * Last or first cells of equal modules: for each way to cut the pack into three or more equal modules of at least four
 * cells, do the border cells together read high, each of them and by the same amount, but for a cable or two from box
 * to box that add more? The cut that explains the most high cells is taken, of equals the clearest.
 */
function evenModules(all: readonly LinkReading[], spreadOhm: number): number[] | null {
  const extraOf = new Map(all.map((each) => [each.cell, each]))
  const last = Math.max(...all.map((each) => each.cell))
  let best: number[] | null = null
  let most = 0
  let clearest = 0
  for (let size = 4; size <= last / 3; size++) {
    if (last % size !== 0) continue
    for (const first of [size, size + 1]) {
      const places = Array.from({ length: last / size - 1 }, (_, j) => first + j * size)
      const extras = places.map((cell) => extraOf.get(cell)?.extra ?? Number.NaN).filter(Number.isFinite)
      const middle = [...extras].sort((a, b) => a - b)[(extras.length - 1) >> 1] ?? 0
      const low = extras.filter((extra) => extra < 1.5 * spreadOhm).length
      const near = Math.max(0.35 * middle, 2.5 * spreadOhm)
      const under = extras.filter((extra) => extra < middle - near).length
      const over = extras.filter((extra) => extra > middle + near).length
      if (extras.length < 2 || low > extras.length / 6 || under > extras.length / 4) continue
      if (over > Math.min(MOST_CABLES, Math.max(1, extras.length >> 1))) continue
      const clear = (extras.length * middle ** 2) / spreadOhm ** 2
      const high = extras.filter((extra) => extra > 3 * spreadOhm).length
      if (clear > CLEAR && (high > most || (high === most && clear > clearest))) {
        most = high
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
