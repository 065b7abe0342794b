import { blockRegression, sharedColumns } from '../../math/many-regressions.ts'
import { median } from '../../math/stats.ts'
import type { CellFit } from './cell-fit.ts'
import type { CellAgainstPeers } from './cell-peers.ts'

interface Half {
  readonly ohmic: number
  readonly error: number
}

/** Plain cells whose own halves say what the drive itself made of a half: gentle driving reads higher (charge transfer). */
const PEERS = 9
const BLOCKS = 24

/**
 * Is the extra the same in both halves of the drive? Gives both where they disagree by four errors and a third. What the
 * peers' readings do between the halves is no cell's own and taken out.
 */
export function disagreeingHalves(
  fit: CellFit,
  cell: CellAgainstPeers,
  all: readonly CellAgainstPeers[],
): readonly [number, number] | null {
  const plain = all.filter((each) => !each.longLink && each !== cell)
  const every = Math.max(1, Math.floor(plain.length / PEERS))
  const peers = plain.filter((_, at) => at % every === 0)
  const own = halvesOf(fit, cell.estimate.cell)
  if (!own || peers.length === 0) return null
  const around = peers.flatMap((each) => halvesOf(fit, each.estimate.cell) ?? [])
  // what its peers lead to expect of this cell beyond those picked: its module, a long busbar
  const more = cell.estimate.ohmicOhm - cell.ohmic.value - median(peers.map((each) => each.estimate.ohmicOhm))
  const usual = (at: 0 | 1): number => median(around.filter((_, i) => i % 2 === at).map((each) => each.ohmic))
  const extra: readonly [number, number] = [own[0].ohmic - usual(0) - more, own[1].ohmic - usual(1) - more]
  const apart = Math.abs(extra[0] - extra[1])
  const clear =
    apart > 4 * Math.hypot(own[0].error, own[1].error) && apart > 0.33 * Math.abs(cell.ohmic.value)
  return clear ? extra : null
}

/** The ohmic part of one cell in the first and the second half of the drive's bins. */
function halvesOf(fit: CellFit, cell: number): [Half, Half] | null {
  const at = fit.table.cells.findIndex((each) => each.cell === cell)
  const design = fit.bins.designs[fit.bins.designOf[at]!]!
  const n = fit.bins.bins
  const usable: number[] = []
  for (let bin = 0; bin < n; bin++) if (Number.isFinite(fit.cleaned[at]![bin]!)) usable.push(bin)
  const cut = usable[usable.length >> 1] ?? 0
  const ones = new Float64Array(n).fill(1)
  const columns = sharedColumns([design.fast, design.slow[0]!, design.charge, ones])
  const blockOf = Int32Array.from({ length: n }, (_, bin) => Math.floor((bin * BLOCKS) / n))
  const half = (inside: (bin: number) => boolean): Half | null => {
    const volts = fit.cleaned[at]!.map((value, bin) => (inside(bin) ? value : Number.NaN))
    const found = blockRegression(columns, volts, blockOf, BLOCKS)
    return found && { ohmic: -found.coefficients[0]!, error: Math.sqrt(found.covariance[0]!) }
  }
  const first = half((bin) => bin < cut)
  const second = half((bin) => bin >= cut)
  return first && second ? [first, second] : null
}
