import type { Span } from '../../../shared/units.ts'
import type { Facts } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { median } from '../../math/stats.ts'
import { type CellRows, type CellSeries, cellTable } from './cell-series.ts'

/** Fewer cells on rows of their own are compared with all; no source. */
const FEWEST_ON_ROWS = 4
/** A reading farther off its peers is no cell's; no source. */
const CELL_MAY_V = 1.5
/** Fewer rows do not show how a reading follows its peers; no source. */
const FEWEST_ROWS = 50
/** Peers that hardly move, by a millivolt, show nothing to follow; no source. */
const LEAST_SPREAD_V2 = 1e-6

export interface ReadingFault {
  readonly cell: number
  readonly kind: 'frozen' | 'invalid'
  /** Time without a believable reading, s. */
  readonly lostS: number
  readonly count: number
  /** From the first to the last bad reading. */
  readonly span_s: Span
  /** How far the peers moved while it stood, V; null for invalid ones. */
  readonly peersMovedV: number | null
}

export interface ReadingFaults {
  readonly faults: readonly ReadingFault[]
  /** Smallest movement of the peers that a frozen reading needs to show, V. */
  readonly smallestMoveV: number
}

/** Own steps that the peers must have moved: an issue of the measuring step, not of the cell. */
const STEPS = 3
/** Edges of a standing stretch that do not count: a cell read late still shows the old value there, s. */
const EDGE_S = 1
/** A jump against the peers that no cell makes within one reading, V. */
const JUMP_V = 0.3
/** Off the peers by more, V: beyond what a bad joint or a weak cell drops at full load. */
const FAR_V = 1.2
const LOWEST_V = 0.5
const HIGHEST_V = 4.8

/**
 * Readings that stand still while the peers move, and readings that cannot be.
 *
 * Frozen:  the same value over and over while the mean of the cells on the same rows ranges over at least three of
 *          the cell's own measuring steps (first and last second of the stretch left out), counted with the share
 *          of the peers' movement that the cell makes elsewhere. Where a third of the cells
 *          stand together it is the box that stopped reading, not a cell.
 * Invalid: marked unbelievable by the import, outside 0.5 to 4.8 V, over 1.2 V off its peers, or a single reading that jumps
 *          by over 0.3 V against them and back.
 * Blind:   a reading that froze while the pack hardly moved.
 */
export function cellReadingFaults(facts: Facts): ReadingFaults | null {
  const table = facts.once(cellTable)
  if (table.cells.length < FEWEST_PEERS) return null
  const faults: ReadingFault[] = []
  for (let at = 0; at < table.rows.length; at++) {
    const cells = table.cells.filter((each) => each.rows === at)
    const peers = cells.length >= FEWEST_ON_ROWS ? cells : table.cells
    faults.push(
      ...onRows(
        table.rows[at]!,
        cells,
        peers.filter((each) => each.rows === at),
      ),
    )
  }
  return {
    faults: beyondCommonLoss(faults, table.cells.length),
    smallestMoveV: STEPS * median(table.cells.map((each) => each.stepV)),
  }
}

/** Invalid readings that most cells share are the box's loss, not a cell's: only what is well beyond it stays. */
function beyondCommonLoss(faults: readonly ReadingFault[], cells: number): ReadingFault[] {
  const lost = faults.filter((each) => each.kind === 'invalid').map((each) => each.lostS)
  const usual = median([...lost, ...Array.from({ length: cells - lost.length }, () => 0)])
  return faults.filter((each) => each.kind !== 'invalid' || each.lostS > 3 * usual)
}

function onRows(
  { timeS, fresh }: CellRows,
  cells: readonly CellSeries[],
  peers: readonly CellSeries[],
): ReadingFault[] {
  const n = timeS.length
  const level = Float64Array.from(peers, (each) => median(thin(each.volts, 500)))
  const common = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    let sum = 0
    let count = 0
    for (let c = 0; c < peers.length; c++) {
      const off = peers[c]!.volts[i]! - level[c]!
      if (Math.abs(off) < CELL_MAY_V) {
        sum += off
        count++
      }
    }
    common[i] = count > 0 ? sum / count : Number.NaN
  }
  const periodS = n > 1 ? (timeS[n - 1]! - timeS[0]!) / (n - 1) : 0
  const standing = cells.map((cell) => frozenStretches(cell, timeS, fresh, common))
  const together = (from: number, to: number): number =>
    standing.filter((stretches) => stretches.some((each) => each.from <= to && each.to >= from)).length
  const out: ReadingFault[] = []
  cells.forEach((cell, c) => {
    const own = standing[c]!.filter(
      (each) => cells.length < FEWEST_ON_ROWS || together(each.from, each.to) < Math.max(2, cells.length / 3),
    )
    if (own.length > 0)
      out.push({
        cell: cell.cell,
        kind: 'frozen',
        lostS: own.reduce((sum, each) => sum + timeS[each.to]! - timeS[each.from]!, 0),
        count: own.length,
        span_s: [timeS[own[0]!.from]!, timeS[own[own.length - 1]!.to]!],
        peersMovedV: Math.max(...own.map((each) => each.moved)),
      })
    const bad = invalidRows(cell.volts, common)
    if (bad.length > 0)
      out.push({
        cell: cell.cell,
        kind: 'invalid',
        lostS: bad.length * periodS,
        count: bad.length,
        span_s: [timeS[bad[0]!]!, timeS[bad[bad.length - 1]!]! + periodS],
        peersMovedV: null,
      })
  })
  return out
}

interface Stretch {
  readonly from: number
  readonly to: number
  readonly moved: number
}

function frozenStretches(
  { volts, stepV }: CellSeries,
  timeS: Float64Array,
  fresh: Uint8Array,
  common: Float64Array,
): Stretch[] {
  const stretches: Stretch[] = []
  const needV = STEPS * Math.max(stepV, 0.001)
  let from = 0
  for (let i = 1; i <= volts.length; i++) {
    if (i < volts.length && volts[i] === volts[from]) continue
    if (timeS[i - 1]! - timeS[from]! > 2 * EDGE_S + 1) {
      let low = Number.POSITIVE_INFINITY
      let high = Number.NEGATIVE_INFINITY
      let [before, last] = [Number.NaN, Number.NaN]
      for (let j = from; j < i; j++) {
        if (!fresh[j] || timeS[j]! < timeS[from]! + EDGE_S || timeS[j]! > timeS[i - 1]! - EDGE_S) continue
        // median of three: a stray of the peers is no movement
        const now = common[j]!
        const middle = Math.max(Math.min(before, last), Math.min(Math.max(before, last), now))
        if (middle < low) low = middle
        if (middle > high) high = middle
        before = last
        last = now
      }
      const moved = high - low
      if (moved >= needV && moved * followsOutside(volts, common, from, i) >= needV)
        stretches.push({ from, to: i - 1, moved })
    }
    from = i
  }
  return stretches
}

/**
 * How much of the peers' movement the cell makes outside a stretch, 0 … 1: a cell that reads without its joint or
 * busbar moves little by nature. 1 where the rest of the log is too short to tell.
 */
function followsOutside(volts: Float64Array, common: Float64Array, from: number, to: number): number {
  const stride = Math.max(1, Math.floor(volts.length / 2000))
  let n = 0
  let [sx, sy, sxx, sxy] = [0, 0, 0, 0]
  for (let i = 0; i < volts.length; i += stride) {
    const [x, y] = [common[i]!, volts[i]!]
    if ((i >= from && i < to) || !Number.isFinite(x) || !Number.isFinite(y)) continue
    n++
    sx += x
    sy += y
    sxx += x * x
    sxy += x * y
  }
  const spread = sxx - (sx * sx) / n
  if (n < FEWEST_ROWS || !(spread / n > LEAST_SPREAD_V2)) return 1
  return Math.max(0, Math.min(1, (sxy - (sx * sy) / n) / spread))
}

function invalidRows(volts: Float64Array, common: Float64Array): number[] {
  const level = median(
    thin(volts, 2000).map((value, j, all) => value - common[Math.floor((j * volts.length) / all.length)]!),
  )
  const bad: number[] = []
  let before = Number.NaN
  let off = volts[0]! - common[0]! - level
  for (let i = 0; i < volts.length; i++) {
    const value = volts[i]!
    const after = i + 1 < volts.length ? volts[i + 1]! - common[i + 1]! - level : Number.NaN
    const up = off - before
    const down = off - after
    // one reading that jumps away and back: both steps large and to the same side
    const jumped = up * down > 0 && Math.abs(up) > JUMP_V && Math.abs(down) > JUMP_V
    if (jumped || !(value >= LOWEST_V && value <= HIGHEST_V) || Math.abs(off) > FAR_V) bad.push(i)
    before = off
    off = after
  }
  return bad
}

/** At most `most` values, evenly picked: place j of the result is place ⌊j · n / length⌋ of the input. */
function thin(values: Float64Array, most: number): Float64Array {
  const length = Math.min(values.length, most)
  return Float64Array.from({ length }, (_, j) => values[Math.floor((j * values.length) / length)]!)
}
