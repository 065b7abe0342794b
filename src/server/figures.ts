import type { Measure, Moment, Pairs, PeerBand } from '../../shared/api.ts'
import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { pairGrid } from '../math/pair-grid.ts'
import { median, quantile } from '../math/stats.ts'
import { stretchFigures } from '../math/stretch-figures.ts'
import { heldAt } from '../samples/on-one-clock.ts'

/** Channels' last values at a moment; null where one has none or is silent. */
export function moment(reader: ChannelReader, ids: readonly string[], atS: number): Moment {
  const found = reader.valuesAt(ids, atS)
  return { at_s: atS, values: Object.fromEntries(ids.map((id, i) => [id, finite(found[i]!)])) }
}

/** Figures of whole channels over a span, from every sample in it. */
export function measures(reader: ChannelReader, ids: readonly string[], span: Span): Measure[] {
  return ids.map((id) => {
    const { timeS, values } = samplesIn(reader, id, span)
    const { period_s } = reader.header.bases[reader.stored(id)!.base]!
    const figures = stretchFigures(timeS, values, Math.max(1, 5 * period_s))
    return {
      id,
      samples: figures.samples,
      mean: figures.mean,
      min: figures.min,
      max: figures.max,
      integral: figures.integral,
      slope_per_s: figures.slopePerS,
    }
  })
}

/**
 * y against x: y's samples, each with x as last read before it. `minusMedianCell`: y less the median of all cells
 * read at the same moments.
 */
export function pairs(
  reader: ChannelReader,
  x: string,
  y: string,
  span: Span,
  minusMedianCell: boolean,
): Pairs {
  const across = samplesIn(reader, y, span)
  const base = minusMedianCell ? medianCell(reader, across.timeS, span) : null
  const ys = base ? across.values.map((value, i) => value - base[i]!) : across.values
  const xs = heldAt(samplesIn(reader, x, span), across.timeS, 1)
  const { atS, ...grid } = pairGrid(xs, ys, across.timeS)
  return { ...grid, at_s: atS }
}

/** Moments that a band of peers is drawn from, and bands of x: enough for a smooth edge, few enough to answer at once. */
const PEER_MOMENTS = 3000
const PEER_BINS = 14
/** Samples below which a bin says nothing of where 95 in 100 lie. */
const PEER_LEAST = 80

/**
 * Where the other cells lie against x, each less the median of all cells: the middle 95 % of their samples in each of
 * so many bands of x. `y` itself is left out.
 */
export function peerBand(reader: ChannelReader, x: string, y: string, span: Span): PeerBand {
  const own = samplesIn(reader, y, span)
  const step = Math.max(1, Math.ceil(own.timeS.length / PEER_MOMENTS))
  const atS = own.timeS.filter((_, i) => i % step === 0)
  const base = medianCell(reader, atS, span)
  const xs = heldAt(samplesIn(reader, x, span), atS, 1)
  const known = xs.filter((each) => !Number.isNaN(each))
  const [least, most] = [known.reduce((a, b) => Math.min(a, b), 0), known.reduce((a, b) => Math.max(a, b), 0)]
  const width = (most - least) / PEER_BINS || 1
  const bins: number[][] = Array.from({ length: PEER_BINS }, () => [])
  const family = y.replace(/\d+$/, '')
  const peers = reader.header.channels.filter(({ id }) => id.startsWith(family) && id !== y)
  for (const { id } of peers) {
    const values = heldAt(samplesIn(reader, id, span), atS, 2)
    for (let i = 0; i < values.length; i++) {
      const value = values[i]! - base[i]!
      const bin = Math.min(PEER_BINS - 1, Math.floor((xs[i]! - least) / width))
      if (!Number.isNaN(value) && bin >= 0) bins[bin]!.push(value)
    }
  }
  const rows = bins
    .map((values, at) => ({ values, x: least + (at + 0.5) * width }))
    .filter(({ values }) => values.length >= PEER_LEAST)
  return {
    x: rows.map((row) => row.x),
    low: rows.map(({ values }) => quantile(values, 0.025)),
    high: rows.map(({ values }) => quantile(values, 0.975)),
    peers: peers.length,
  }
}

function medianCell(reader: ChannelReader, timeS: Float64Array, span: Span): Float64Array {
  const cells = reader.header.channels
    .filter(({ id }) => id.startsWith('cell_voltage.'))
    .map(({ id }) => heldAt(samplesIn(reader, id, span), timeS, 2))
  const at = new Float64Array(cells.length)
  return Float64Array.from(timeS, (_, i) => {
    for (let cell = 0; cell < cells.length; cell++) at[cell] = cells[cell]![i]!
    return median(at.filter((value) => !Number.isNaN(value)))
  })
}

function samplesIn(reader: ChannelReader, id: string, span: Span): Channel {
  const [from, to] = reader.range(id, span)
  const timeS = reader.times(id, from, to)
  let first = 0
  let last = timeS.length
  while (first < last && timeS[first]! < span[0]) first++
  while (last > first && timeS[last - 1]! > span[1]) last--
  const stored = reader.stored(id)!
  return {
    id,
    unit: stored.unit,
    timeS: timeS.subarray(first, last),
    values: Float64Array.from(reader.values(id, from, to)).subarray(first, last),
    fresh: null,
    labels: stored.labels,
    file: stored.file,
    from: stored.from,
    step: stored.step,
    polarity: stored.polarity,
  }
}

const finite = (value: number | null) => (value !== null && Number.isFinite(value) ? value : null)
