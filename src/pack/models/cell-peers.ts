import type { PackLayout } from '../../../shared/vehicle.ts'
import type { Facts } from '../../facts/facts.ts'
import { biweightSpread } from '../../math/biweight.ts'
import { median } from '../../math/stats.ts'
import { type CellEstimate, type CellFit, cellFit } from './cell-fit.ts'
import { type LongLinks, longLinks } from './long-busbars.ts'

/** Where neighbours share less than this of their scatter it is chance; no source. */
const WANDERS_SHARE = 0.3
/** A module of fewer cells has no level of its own; no source. */
const FEWEST_OF_MODULE = 4
/** Fewer neighbours give no level of the place; no source. */
const FEWEST_NEAR = 8

/** How far one cell's figure lies from what its peers lead to expect. */
export interface Excess {
  readonly value: number
  /** Standard error of the fit alone. */
  readonly fitError: number
  /** Standard error of the cause: fit, the peers' own differences, and the peers' centre. */
  readonly error: number
}

export interface CellAgainstPeers {
  readonly estimate: CellEstimate
  readonly ohmic: Excess
  readonly slow: Excess
  readonly fall: Excess
  readonly bend: Excess
  readonly offset: Excess
  /** Of (ohmic, slow, fall, bend), 4 × 4 row-major: of the cause, as the errors above. */
  readonly covariance: Float64Array
  /** Read with a longer busbar, or with a link without peers. */
  readonly longLink: boolean
}

export interface PeerView {
  readonly fit: CellFit
  readonly cells: readonly CellAgainstPeers[]
  readonly links: LongLinks
  /** Robust spread among peers, Ω, Ω, V/A·h, V. */
  readonly spread: {
    readonly ohmic: number
    readonly slow: number
    readonly fall: number
    readonly bend: number
    readonly offset: number
  }
  /** What each module (or stretch of cells) was found to add to ohmic resistance: colder modules, Ω. */
  readonly moduleOhmic: ReadonlyMap<number, number>
}

/**
 * Every cell against its peers: the pack's median, what its module has in common (a colder end module resists more:
 * that is explained first) and, for cells read with a long busbar, what such busbars add.
 *
 * A module's part is the median over its cells, drawn back towards the pack's in proportion to how much of it the
 * peers' spread alone would make. Without known modules a running median over 21 cells takes its place.
 */
export function cellPeers(facts: Facts): PeerView | null {
  const fit = facts.once(cellFit)
  if (!fit) return null
  const { layout } = facts
  const none = new Set<number>()
  const ohmicRough = relative(fit.cells, layout, 'ohmicOhm', none)
  const slow = relative(fit.cells, layout, 'slowOhm', none)
  const links = longLinks(
    facts,
    fit.cells.map((each, at) => ({
      cell: each.cell,
      extra: ohmicRough.value[at]!,
      ohmicOnly: Math.abs(slow.value[at]!) < 5 * slow.spread,
    })),
    ohmicRough.spread,
  )
  const ohmic = relative(fit.cells, layout, 'ohmicOhm', new Set([...links.cells, ...links.alone.keys()]))
  const fall = relative(fit.cells, layout, 'fallVPerAh', none)
  const bend = relative(fit.cells, layout, 'bendOhm', none)
  const offset = relative(fit.cells, null, 'offsetV', none)
  const excess = (of: Relative, at: number, more = 0, moreSpread = 0): Excess => {
    const fitError = Math.sqrt(varianceOf(fit.cells[at]!, of.figure))
    return {
      value: of.value[at]! - more,
      fitError,
      error: Math.hypot(fitError, of.own, of.centreError, moreSpread),
    }
  }
  const together = robustCorrelation(slow.value, fall.value)
  const cells = fit.cells.map((estimate, at): CellAgainstPeers => {
    const longLink = links.cells.has(estimate.cell)
    const parts = [
      excess(ohmic, at, longLink ? links.extraOhm : 0, longLink ? links.spreadOhm : 0),
      excess(slow, at),
      excess(fall, at),
      excess(bend, at),
    ] as const
    return {
      estimate,
      ohmic: parts[0],
      slow: parts[1],
      fall: parts[2],
      bend: parts[3],
      offset: excess(offset, at),
      covariance: ofCause(estimate, parts, together),
      longLink: longLink || links.alone.has(estimate.cell),
    }
  })
  return {
    fit,
    cells,
    links,
    spread: {
      ohmic: ohmic.spread,
      slow: slow.spread,
      fall: fall.spread,
      bend: bend.spread,
      offset: offset.spread,
    },
    moduleOhmic: ohmic.modules,
  }
}

/**
 * The fit's covariance of (ohmic, slow, fall, bend) with the peers' own differences added: those of slow part and fall
 * go together among the peers as `together` says (an error of the slow parts' shape moves both).
 */
function ofCause(
  { covariance, bendCovariance }: CellEstimate,
  parts: readonly [Excess, Excess, Excess, Excess],
  together: number,
): Float64Array {
  const beyond = parts.map(({ error, fitError }) => Math.sqrt(Math.max(0, error ** 2 - fitError ** 2)))
  return Float64Array.from({ length: 16 }, (_, j) => {
    const [row, column] = [j >> 2, j & 3]
    const own = beyond[row]! * beyond[column]!
    const share = row === column ? 1 : row + column === 3 && row * column === 2 ? together : 0
    const fit = row === 3 ? bendCovariance[column]! : column === 3 ? bendCovariance[row]! : covariance[j]!
    return fit + share * own
  })
}

/**
 * Correlation that a few strays do not make: from the robust spreads of sum and difference of both series over their
 * own spreads (Gnanadesikan & Kettenring, Biometrics 28 (1972) 81, from memory); kept within ±0.95.
 */
function robustCorrelation(a: Float64Array, b: Float64Array): number {
  const [wideA, wideB] = [biweightSpread(a), biweightSpread(b)]
  if (!(wideA > 0 && wideB > 0)) return 0
  const sum = biweightSpread(a.map((value, i) => value / wideA + b[i]! / wideB)) ** 2
  const difference = biweightSpread(a.map((value, i) => value / wideA - b[i]! / wideB)) ** 2
  const found = (sum - difference) / (sum + difference)
  return Number.isFinite(found) ? Math.max(-0.95, Math.min(0.95, found)) : 0
}

/** Place of each figure in the fit's covariance. */
const ROW = { ohmicOhm: 0, slowOhm: 1, fallVPerAh: 2, offsetV: 3 } as const
type Figure = keyof typeof ROW | 'bendOhm'

function varianceOf(cell: CellEstimate, figure: Figure): number {
  return figure === 'bendOhm' ? cell.bendCovariance[3]! : cell.covariance[ROW[figure] * 5]!
}

interface Relative {
  readonly figure: Figure
  readonly value: Float64Array
  /** Robust spread of the values, fit errors included. */
  readonly spread: number
  /** The part of it that is the cells' own. */
  readonly own: number
  /** Standard error of the centre that values are taken against. */
  readonly centreError: number
  readonly modules: ReadonlyMap<number, number>
}

/** Cells' figures against what their module and the pack have in common; `apart` cells do not shape the centre. */
function relative(
  cells: readonly CellEstimate[],
  layout: PackLayout | null,
  figure: Figure,
  apart: ReadonlySet<number>,
): Relative {
  const all = cells.map((each) => each[figure])
  const plain = cells.map((each) => !apart.has(each.cell))
  const centre = median(all.filter((_, at) => plain[at]))
  const value = Float64Array.from(all, (each) => each - centre)
  const modules = new Map<number, number>()
  let centreCells = plain.filter(Boolean).length
  if (layout) {
    const local = layout.known ? byModule(cells, value, plain) : byStretch(value, plain)
    const rest = value.map((each, at) => each - local.level[at]!)
    const inside = biweightSpread(rest.filter((_, at) => plain[at]))
    const between = biweightSpread(local.levels)
    const byChance = (1.2533 * inside) / Math.sqrt(local.size)
    const kept = between > 0 ? Math.max(0, 1 - (byChance / between) ** 2) : 0
    if (kept > WANDERS_SHARE) {
      for (let at = 0; at < value.length; at++) {
        value[at]! -= kept * local.level[at]!
        if (layout.known) modules.set(cells[at]!.module, kept * local.level[at]!)
      }
      centreCells = local.size
    }
  }
  const kept = value.filter((_, at) => plain[at])
  // the median of n values is taken out, so n values scatter less than their true spread
  const spread = biweightSpread(kept) * Math.sqrt(centreCells / Math.max(1, centreCells - 1))
  const fitSquares = median(cells.map((each) => varianceOf(each, figure)))
  const own = Math.sqrt(Math.max(0, spread ** 2 - fitSquares))
  return { figure, value, spread, own, centreError: (1.2533 * spread) / Math.sqrt(centreCells), modules }
}

interface Local {
  readonly level: Float64Array
  readonly levels: readonly number[]
  readonly size: number
}

function byModule(cells: readonly CellEstimate[], value: Float64Array, plain: readonly boolean[]): Local {
  const members = new Map<number, number[]>()
  cells.forEach((each, at) => {
    if (plain[at]) members.set(each.module, [...(members.get(each.module) ?? []), value[at]!])
  })
  const levels = new Map(
    [...members].filter(([, own]) => own.length >= FEWEST_OF_MODULE).map(([m, own]) => [m, median(own)]),
  )
  const sizes = [...members.values()].map((own) => own.length)
  return {
    level: Float64Array.from(cells, (each) => levels.get(each.module) ?? 0),
    levels: [...levels.values()],
    size: Math.max(1, median(sizes)),
  }
}

function byStretch(value: Float64Array, plain: readonly boolean[]): Local {
  const level = Float64Array.from(value, (_, at) => {
    const near: number[] = []
    for (let j = Math.max(0, at - 10); j <= Math.min(value.length - 1, at + 10); j++)
      if (plain[j]) near.push(value[j]!)
    return near.length >= FEWEST_NEAR ? median(near) : 0
  })
  return { level, levels: [...level].filter((_, at) => at % 10 === 5), size: Math.min(21, value.length) }
}
