import type { Measure, Moment, Pairs } from '../../shared/api.ts'
import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { pairGrid } from '../math/pair-grid.ts'
import { median } from '../math/stats.ts'
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
