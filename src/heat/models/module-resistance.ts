import type { Facts } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { picked } from '../../math/picked.ts'
import { mean } from '../../math/stats.ts'
import { cellPeers } from '../../pack/models/cell-peers.ts'

/** Fewer rows of a part give no resistance; no source. */
const FEWEST_ROWS = 40

/** Short-time resistance of each module against the pack's mean, part by part of the drive: cells as thermometers. */
export interface ModuleResistance {
  /** Module numbers, ascending. */
  readonly modules: readonly number[]
  /** Half-open parts of the drive, s. */
  readonly parts: readonly (readonly [number, number])[]
  /** By module, by part: (R of the module's mean cell − the pack's) / typical R; NaN where the part was too gentle. */
  readonly relative: readonly Float64Array[]
  /** Mean square current of each part, A²: where heat and resistance were read. */
  readonly weightA2: Float64Array
}

/** A part needs this spread of current, A, and this length, s. */
const LEAST_SPREAD_A = 8
const PART_S = 120
const LEAST_CELLS = 4

/**
 * Model: v_module − v_pack = o + slope · q − δR · i − δP · s over the bins of each part, cells read with a long busbar
 * left out; i and s as in `cellFit`. The lag between scans is the same in every part, so it does not move δR with time.
 * null without at least three modules of four cells, or where the drive gives under two parts.
 */
export function moduleResistance(facts: Facts): ModuleResistance | null {
  const view = facts.once(cellPeers)
  if (!view || !facts.layout.known || !(view.fit.typical.ohmicOhm > 0)) return null
  const { fit } = view
  const { bins } = fit
  const long = new Set(view.cells.filter((cell) => cell.longLink).map((cell) => cell.estimate.cell))
  const placeOf = new Map(fit.table.cells.map(({ cell }, at) => [cell, at]))
  const members = new Map<number, number[]>()
  for (const { cell, module } of fit.cells)
    if (!long.has(cell)) members.set(module, [...(members.get(module) ?? []), placeOf.get(cell)!])
  const modules = [...members].filter(([, own]) => own.length >= LEAST_CELLS).map(([module]) => module)
  modules.sort((a, b) => a - b)
  if (modules.length < FEWEST_PEERS) return null
  const meanOf = (places: readonly number[]): Float64Array =>
    Float64Array.from({ length: bins.bins }, (_, bin) => {
      let sum = 0
      for (const at of places) sum += bins.volts[at]![bin]!
      return sum / places.length
    })
  const volts = modules.map((module) => meanOf(members.get(module)!))
  const pack = Float64Array.from({ length: bins.bins }, (_, bin) => mean(volts.map((each) => each[bin]!)))
  const design = bins.designs[bins.designOf[members.get(modules[0]!)![0]!]!]!
  const spanS = bins.bins * bins.widthS
  const count = Math.max(2, Math.min(8, Math.floor(spanS / PART_S)))
  const parts = Array.from({ length: count }, (_, part): [number, number] => [
    Math.floor((part * bins.bins) / count),
    Math.floor(((part + 1) * bins.bins) / count),
  ])
  const weightA2 = Float64Array.from(parts, ([from, to]) =>
    mean(design.fast.subarray(from, to).map((a) => a * a)),
  )
  const relative = volts.map((own) =>
    Float64Array.from(parts, ([from, to]) => {
      const rows: number[] = []
      for (let bin = from; bin < to; bin++)
        if (Number.isFinite(own[bin]! + pack[bin]! + design.fast[bin]! + design.slow[0]![bin]!))
          rows.push(bin)
      if (rows.length < FEWEST_ROWS) return Number.NaN
      const pick = (series: Float64Array): Float64Array => picked(series, rows)
      const fast = pick(design.fast)
      const centre = mean(fast)
      if (!(Math.sqrt(mean(fast.map((a) => (a - centre) ** 2))) > LEAST_SPREAD_A)) return Number.NaN
      const line = leastSquares(
        [fast, pick(design.slow[0]!), pick(design.charge), new Float64Array(rows.length).fill(1)],
        Float64Array.from(rows, (bin) => own[bin]! - pack[bin]!),
      )
      return line ? -line.coefficients[0]! / fit.typical.ohmicOhm : Number.NaN
    }),
  )
  const told = parts.map((_, part) => relative.every((own) => Number.isFinite(own[part]!)))
  if (told.filter(Boolean).length < 2) return null
  const keep = (_: unknown, part: number): boolean => told[part]!
  return {
    modules,
    parts: parts
      .filter(keep)
      .map(([from, to]) => [bins.startS + from * bins.widthS, bins.startS + to * bins.widthS] as const),
    relative: relative.map((own) => own.filter(keep)),
    weightA2: weightA2.filter(keep),
  }
}
