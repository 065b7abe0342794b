import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { duration, spansWhere } from '../../math/spans.ts'
import { mean, median, robustSpread, standardDeviation } from '../../math/stats.ts'
import { type CellFit, cellFit } from './cell-fit.ts'
import { type CellTable, cellTable } from './cell-series.ts'

/** Two rests so near are one; no source. */
const JOINED_S = 0.3

export interface RestOffset {
  readonly cell: number
  /** Against the median of all cells, V. */
  readonly offsetV: number
  /** Standard error of the reading: noise and measuring step. */
  readonly error: number
}

export interface CellRest {
  /** `before` the first load of the log, `after` load, or `fit`: read from the fit under load for want of a rest. */
  readonly from: 'before' | 'after' | 'fit'
  readonly span_s: Span
  /** Seconds since load: before the first load only a lower bound (the log does not show what went before). */
  readonly restS: number | null
  readonly medianV: number
  readonly cells: readonly RestOffset[]
  /** Robust spread of the offsets, V. */
  readonly spreadV: number
}

/** Hardly any load, and what still counts as a rest where there is no better one, A. */
const STILL_A = [1.5, 3] as const
const SHORTEST_S = 3
/** Half a minute after a drive the cells still relax; from a quarter of an hour on an offset is called one at rest. */
const SETTLED_S = 900
/** How far a voltage read off the fit may be off for reasons the fit does not know, V. */
const FIT_MODEL_V = 0.001
/** A log that begins under load does not show how far the slow parts were charged: by this share of the drive's rms. */
const CHARGED_BEFORE = 0.3
/** What bleeding through the sense leads may shift where it never paused, V: common practice, no source. */
const BLED_V = 0.004
/** So many readings of its own a cell needs before they say as much of its noise as the other cells do. */
const USUAL_COUNT = 20
/** No cell moves this far at rest, V. */
const STRAY_V = 0.05
/** No rest is read finer than this, V. */
const FINEST_V = 6e-5

/**
 * How far each cell stands from the pack's median without load.
 *
 * Read in the stretch before the log's first load where there is one (three seconds or more with under 1.5 A, or else
 * 3 A): the best
 * rest there is, though nothing tells how long it had lasted. Else after at least a quarter of an hour without load.
 * Else from the fit, carried back to the start of the log, and said so. A coarse measuring step without noise hides up
 * to half a step; then the fit, whose readings move across many steps, is weighed in.
 * Blind: voltages that still relax; what balancing pulled down while it was on (those rows leave).
 */
export function cellRest(facts: Facts): CellRest | null {
  const table = facts.once(cellTable)
  if (table.cells.length < FEWEST_PEERS) return null
  const fit = facts.once(cellFit)
  const fallSpread = fit ? robustSpread(fit.cells.map((each) => each.fallVPerAh)) : 0
  const rmsA = fit ? rms(fit.through.amperes) : 0
  const fromFit = fit
    ? fit.cells.map((each) => ({
        cell: each.cell,
        volts: each.offsetV + each.fallVPerAh * fit.middleAh,
        error: Math.hypot(
          FIT_MODEL_V,
          fallSpread * fit.middleAh,
          // a cell far from the others' charge falls along another, bent stretch of the curve
          0.5 * Math.abs(each.fallVPerAh - fit.typical.fallVPerAh) * fit.middleAh,
          CHARGED_BEFORE * rmsA * (each.slowOhm - fit.typical.slowOhm),
          Math.sqrt(
            Math.max(
              0,
              each.covariance[15]! +
                fit.middleAh ** 2 * each.covariance[10]! +
                2 * fit.middleAh * each.covariance[11]!,
            ),
          ),
        ),
      }))
    : []
  const noiseV = fit ? fitNoise(fit) : null
  const startS = facts.drive.segments[0]?.span_s[0] ?? 0
  const atStart = (amps: number): Span | null =>
    stillSpans(facts, amps).find(([from, to]) => from - startS < 1 && to - from >= SHORTEST_S) ?? null
  const before = atStart(STILL_A[0]) ?? atStart(STILL_A[1])
  const still = stillSpans(facts, STILL_A[1])
  const first = still.find(([from]) => from - startS < 1)
  const settled = still.filter((span) => span !== first && span[1] - span[0] > SETTLED_S)
  const after = settled[settled.length - 1]
  if (before) {
    const read = readings(table, [Math.max(before[0], before[1] - 120), before[1]], noiseV)
    return offsets('before', before, before[1] - before[0], read, fromFit)
  }
  if (after) {
    const from = Math.max(after[0] + SETTLED_S, after[1] - 120)
    return offsets(
      'after',
      after,
      (from + after[1]) / 2 - after[0],
      readings(table, [from, after[1]], noiseV),
      fromFit,
    )
  }
  if (fromFit.length === 0) return null
  return offsets('fit', [0, facts.drive.durationS], null, [], fromFit)
}

/** Noise of single readings, V: of the fit's residuals, less what the measuring step adds. */
function fitNoise(fit: CellFit): number {
  const rows = Math.max(1, fit.bins.widthS / fit.table.periodS)
  const stepV = median(fit.table.cells.map((each) => each.stepV))
  return Math.sqrt(Math.max(0, rows * median(fit.cells.map((each) => each.spreadV ** 2)) - stepV ** 2 / 12))
}

function rms(values: Float64Array): number {
  let squares = 0
  for (const value of values) squares += value * value
  return Math.sqrt(squares / values.length)
}

interface Reading {
  readonly cell: number
  readonly volts: number
  readonly error: number
}

/** Stretches without load: by current, or by contactors where no current is logged. */
export function stillSpans(facts: Facts, mostA: number): Span[] {
  const current = facts.once(packCurrent)
  const positive = facts.drive.channels.get('contactor_positive')
  if (current) {
    const spans = spansWhere(current.timeS, (i) => !(Math.abs(current.amperes[i]!) > mostA))
    // single samples of noise do not end a rest
    const joined: [number, number][] = []
    for (const [from, to] of spans) {
      const last = joined[joined.length - 1]
      if (last && from - last[1] < JOINED_S) last[1] = to
      else joined.push([from, to])
    }
    return joined.filter((span) => duration([span]) >= SHORTEST_S)
  }
  if (positive) return spansWhere(positive.timeS, (i) => positive.values[i] === 0)
  return []
}

/**
 * Mean voltages over a span, from what each reading is beside the mean cell of its row: a cell that was read in part of
 * the span only (bled later, a stray) is compared with what the others were then. What the measuring step hides: a
 * step's own spread (step / √12), less what noise over the steps evens out, exp(−2π²σ²/step²), σ² the readings'
 * variance less the step's own (Widrow's rule, from memory).
 */
function readings(table: CellTable, span: Span, noiseV: number | null): Reading[] {
  const all = table.rows.flatMap(({ timeS, fresh }, at) => {
    const rows: number[] = []
    for (let i = 0; i < timeS.length; i++) if (timeS[i]! >= span[0] && timeS[i]! < span[1]) rows.push(i)
    const cells = table.cells.filter((each) => each.rows === at)
    const common = meanCell(cells, rows)
    const level = mean(common)
    return cells.flatMap(({ cell, volts, bled, stepV }) => {
      const kept: number[] = []
      const whileBled: number[] = []
      let fresher = 0
      rows.forEach((i, j) => {
        const beside = volts[i]! - common[j]!
        if (!Number.isFinite(beside)) return
        fresher += fresh[i]!
        if (bled?.[i]) whileBled.push(beside)
        else kept.push(beside)
      })
      const bledV = kept.length === 0 ? BLED_V : 0
      const read = withoutStrays(kept.length > 0 ? kept : whileBled, stepV)
      if (read.length === 0) return []
      const noise = read.length > 2 ? standardDeviation(read) : 0
      const count = Math.max(1, Math.min(read.length, fresher))
      return [{ cell, volts: level + mean(read), noise, count, stepV, bledV }]
    })
  })
  const stepV = median(all.map((each) => each.stepV))
  const seen = Math.max(0, median(all.map((each) => each.noise ** 2)) - stepV ** 2 / 12)
  const dither = noiseV === null ? seen : Math.min(seen, noiseV ** 2)
  const hidden = stepV > 0 ? (stepV / Math.sqrt(12)) * Math.exp((-2 * Math.PI ** 2 * dither) / stepV ** 2) : 0
  // a handful of readings tells a cell's noise badly: all cells' counts as many more
  const usual = median(all.map((each) => each.noise ** 2))
  const centre = median(all.map((each) => each.volts))
  return all.map(({ cell, volts, noise, count, bledV }) => {
    const square = (noise ** 2 * count + usual * USUAL_COUNT) / (count + USUAL_COUNT)
    // what the step hides of the median cell is the same for cells on the same step, and another's for the rest
    const ofCentre = Math.abs(volts - centre) > stepV / 2 ? hidden : 0
    return { cell, volts, error: Math.hypot(Math.sqrt(square / count), hidden, ofCentre, bledV, FINEST_V) }
  })
}

/** Mean voltage of the cells on each of the rows, each cell's own level evened out; bled and stray readings left out. */
function meanCell(cells: CellTable['cells'], rows: readonly number[]): Float64Array {
  const levels = cells.map(({ volts, bled }) => {
    const free = rows.filter((i) => !bled?.[i])
    return median((free.length > 0 ? free : rows).map((i) => volts[i]!))
  })
  const level = median(levels)
  return Float64Array.from(rows, (i) => {
    let sum = 0
    let count = 0
    cells.forEach(({ volts, bled }, c) => {
      const moved = volts[i]! - levels[c]!
      if (bled?.[i] || !(Math.abs(moved) < STRAY_V)) return
      sum += moved
      count++
    })
    return count > 0 ? level + sum / count : Number.NaN
  })
}

/** Readings within six robust spreads, or three measuring steps, of their median. */
function withoutStrays(values: readonly number[], stepV: number): number[] {
  const middle = median(values)
  const wide = Math.max(3 * stepV, 6 * robustSpread(values))
  return values.filter((value) => Math.abs(value - middle) <= wide)
}

function offsets(
  from: CellRest['from'],
  span_s: Span,
  restS: number | null,
  rest: readonly Reading[],
  fit: readonly Reading[],
): CellRest | null {
  const base = rest.length > 0 ? rest : fit
  if (base.length < FEWEST_PEERS) return null
  const relative = (all: readonly Reading[]): Map<number, Reading> => {
    const centre = median(all.map((each) => each.volts))
    return new Map(all.map((each) => [each.cell, { ...each, volts: each.volts - centre }]))
  }
  const atRest = relative(rest)
  const byFit = relative(fit)
  const cells = base.map(({ cell }) => {
    const a = atRest.get(cell)
    const b = byFit.get(cell)
    if (a && (a.error < FIT_MODEL_V || !b || !(b.error < 5 * a.error)))
      return { cell, offsetV: a.volts, error: a.error }
    if (!a) return { cell, offsetV: b!.volts, error: b!.error }
    const wa = 1 / a.error ** 2
    const wb = 1 / b!.error ** 2
    return { cell, offsetV: (wa * a.volts + wb * b!.volts) / (wa + wb), error: 1 / Math.sqrt(wa + wb) }
  })
  return {
    from,
    span_s,
    restS,
    medianV: median(base.map((each) => each.volts)),
    cells,
    spreadV: robustSpread(cells.map((each) => each.offsetV)),
  }
}
