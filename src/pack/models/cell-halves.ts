import { blockRegression, sharedColumns } from '../../math/many-regressions.ts'
import type { CellFit } from './cell-fit.ts'
import type { CellAgainstPeers } from './cell-peers.ts'

/** Is the extra the same in both halves of the drive? Gives both where they disagree by four errors and a third. */
export function disagreeingHalves(fit: CellFit, cell: CellAgainstPeers): readonly [number, number] | null {
  const at = fit.table.cells.findIndex((each) => each.cell === cell.estimate.cell)
  const design = fit.bins.designs[fit.bins.designOf[at]!]!
  const n = fit.bins.bins
  const usable: number[] = []
  for (let bin = 0; bin < n; bin++) if (Number.isFinite(fit.cleaned[at]![bin]!)) usable.push(bin)
  const cut = usable[usable.length >> 1] ?? 0
  const ones = new Float64Array(n).fill(1)
  const columns = sharedColumns([design.fast, design.slow[0]!, design.charge, ones])
  const blockOf = Int32Array.from({ length: n }, (_, bin) => Math.floor((bin * 24) / n))
  const half = (inside: (bin: number) => boolean): { ohmic: number; error: number } | null => {
    const volts = fit.cleaned[at]!.map((value, bin) => (inside(bin) ? value : Number.NaN))
    const found = blockRegression(columns, volts, blockOf, 24)
    return found && { ohmic: -found.coefficients[0]!, error: Math.sqrt(found.covariance[0]!) }
  }
  const first = half((bin) => bin < cut)
  const second = half((bin) => bin >= cut)
  if (!first || !second) return null
  const usual = cell.estimate.ohmicOhm - cell.ohmic.value
  const extra: readonly [number, number] = [first.ohmic - usual, second.ohmic - usual]
  const apart = Math.abs(extra[0] - extra[1])
  const clear = apart > 4 * Math.hypot(first.error, second.error) && apart > 0.33 * Math.abs(cell.ohmic.value)
  return clear ? extra : null
}
