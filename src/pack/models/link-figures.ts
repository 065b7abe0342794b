import type { Facts } from '../../facts/facts.ts'
import { family } from '../../facts/facts.ts'
import { blockRegression, sharedColumns } from '../../math/many-regressions.ts'
import { median, quantile, robustSpread } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import type { CellFit } from './cell-fit.ts'
import { cellPeers } from './cell-peers.ts'
import type { LoneLink } from './lone-links.ts'
import { PLAIN_LINK_OHM, PLAIN_LINK_SPREAD } from './plain-link.ts'

/** What one drive shows of a link without peers. */
export interface LinkFigure {
  readonly link: LoneLink
  /** Cell whose reading holds it. */
  readonly cell: number
  /** The whole link, Ω, and half of its 95 % interval. */
  readonly ohm: number
  readonly plusMinus: number
  /** Rise with the pack's warmth, Ω per K, and its standard error; null where the drive hardly warmed. */
  readonly perK: { readonly ohm: number; readonly error: number } | null
}

/** Warmth must span so many kelvin (5th to 95th percentile). */
const LEAST_K = 6
const BLOCKS = 24

/**
 * The links without peers as the cells' readings hold them: a cell's ohmic part against plain cells, and what a plain
 * reading holds of busbar added.
 *
 * Biased by: that cell's own difference from its peers (in the interval). Blind: a link that no cell's reading holds.
 */
export function linkFigures(facts: Facts): readonly LinkFigure[] {
  const peers = facts.once(cellPeers)
  if (!peers) return []
  const { fit, links } = peers
  const warm = warmthOf(facts, fit)
  const plain = peers.cells.filter((each) => !each.longLink).slice(0, 24)
  const slopes = warm ? plain.map((each) => slopeOf(fit, each.estimate.cell, warm)) : []
  const usual = median(slopes)
  const scatter = robustSpread(slopes)
  return peers.cells.flatMap((each): LinkFigure[] => {
    const { cell } = each.estimate
    const link = links.alone.get(cell)
    if (!link) return []
    const ohm = Math.max(0, each.ohmic.value + PLAIN_LINK_OHM)
    const gain = (fit.gainPercent / 100) * ohm
    const slope = warm && Number.isFinite(usual) ? slopeOf(fit, cell, warm) : Number.NaN
    return [
      {
        link,
        cell,
        ohm,
        plusMinus: Math.hypot(1.96 * Math.hypot(each.ohmic.error, PLAIN_LINK_SPREAD), gain),
        perK: Number.isFinite(slope) ? { ohm: slope - usual, error: scatter } : null,
      },
    ]
  })
}

/** Mean of the modules' temperatures at the bins about its own mean, K; null where it hardly changed or is not logged. */
function warmthOf(facts: Facts, { bins }: CellFit): Float64Array | null {
  const at = Float64Array.from({ length: bins.bins }, (_, bin) => bins.startS + (bin + 0.5) * bins.widthS)
  const read = family(facts, 'module_temperature').map(({ channel }) => linearAt(channel, at))
  if (read.length === 0) return null
  const mean = at.map((_, i) => median(read.map((each) => each[i]!)))
  if (!(quantile(mean, 0.95) - quantile(mean, 0.05) > LEAST_K)) return null
  const middle = median(mean)
  return mean.map((celsius) => celsius - middle)
}

/** How a reading's ohmic part rises with the warmth, Ω per K, against what all cells do alike. */
function slopeOf(fit: CellFit, cell: number, warm: Float64Array): number {
  const at = fit.table.cells.findIndex((each) => each.cell === cell)
  const design = fit.bins.designs[fit.bins.designOf[at]!]!
  const n = fit.bins.bins
  const ones = new Float64Array(n).fill(1)
  const warming = design.fast.map((amps, bin) => amps * warm[bin]!)
  const columns = sharedColumns([design.fast, design.slow[0]!, design.charge, ones, warming])
  const blockOf = Int32Array.from({ length: n }, (_, bin) => Math.floor((bin * BLOCKS) / n))
  const found = blockRegression(columns, fit.cleaned[at]!, blockOf, BLOCKS, true)
  return found ? -found.coefficients[4]! : Number.NaN
}
