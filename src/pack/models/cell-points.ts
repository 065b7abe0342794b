import type { CellFit } from './cell-fit.ts'

/** A cell's readings against current, for a drawing: what its ohmic part alone should make of them. */
export interface CellPoints {
  readonly cell: number
  readonly amperes: Float64Array
  /** Voltage with charge, slow parts and the pack's common wandering taken out, against no load, mV. */
  readonly millivolts: Float64Array
  /** The fitted line: mV per A, through the origin. */
  readonly slopeMilliohm: number
  /** The pack's typical cell, the same. */
  readonly typicalMilliohm: number
}

/**
 * Points and line of one cell, evenly thinned to `most`; null where the cell was not fitted.
 * A joint turns the cloud about the origin; a sense lead or an imbalance shifts it, which is taken out here.
 */
export function cellPoints(fit: CellFit, cell: number, most = 400): CellPoints | null {
  const estimate = fit.cells.find((each) => each.cell === cell)
  const at = fit.table.cells.findIndex((each) => each.cell === cell)
  const volts = fit.cleaned[at]
  if (!estimate || !volts) return null
  const design = fit.bins.designs[fit.bins.designOf[at]!]!
  const usable: number[] = []
  for (let bin = 0; bin < volts.length; bin++)
    if (Number.isFinite(volts[bin]!) && Number.isFinite(design.fast[bin]!)) usable.push(bin)
  const stride = Math.max(1, Math.ceil(usable.length / most))
  const picked = usable.filter((_, i) => i % stride === 0)
  const { slowOhm, fallVPerAh } = fit.shift
  const rest = (bin: number): number =>
    estimate.offsetV -
    (estimate.slowOhm - slowOhm) * design.slow[0]![bin]! -
    (estimate.fallVPerAh - fallVPerAh) * (design.charge[bin]! - fit.middleAh)
  return {
    cell,
    amperes: Float64Array.from(picked, (bin) => design.fast[bin]!),
    millivolts: Float64Array.from(picked, (bin) => (volts[bin]! - rest(bin)) * 1e3),
    slopeMilliohm: -estimate.ohmicOhm * 1e3,
    typicalMilliohm: -fit.typical.ohmicOhm * 1e3,
  }
}
