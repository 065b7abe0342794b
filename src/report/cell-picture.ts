import { channelNamed, type Drive } from '../../shared/drive.ts'
import type { Finding } from '../../shared/review.ts'
import { median, quantileSorted, sortedFinite } from '../math/stats.ts'
import { linearAt } from '../samples/on-one-clock.ts'
import { type SvgLine, svgChart } from './svg-chart.ts'

/** Rows that the picture is made of; more would look the same. */
const ROWS = 4000
const BINS = 24
/** Fewer rows of a current are no point. */
const FEWEST = 6
/** Fewer cells have no median to stand against. */
const FEWEST_CELLS = 4

/**
 * A joint, cell or sense lead as its fault looks: the cell's voltage less the median of all cells, mV, against the
 * pack's current, A, beside the band in which nine of ten of its peers lie. An extra resistance R is a line that falls by
 * R (mΩ = mV/A) through nothing at rest; an offset stands beside the band at every current; a sense lead moves two cells
 * against each other. Empty text where the drive cannot draw it.
 */
export function cellPicture({ subject }: Finding, drive: Drive): string {
  const lines = cellsAgainstCurrent(subject, drive)
  const own = cellsOf(subject)
  return svgChart({
    title: `${own.length > 1 ? 'Cells' : 'Cell'} ${own.join(' and ')} against the median of all cells`,
    unit: 'mV',
    lines,
    limits: [],
    shade: null,
    xIsTime: false,
    xLabel: 'pack current, A (discharge positive)',
  })
}

/** The accused cells' lines, then the band's; none where the drive cannot draw them. */
export function cellsAgainstCurrent(subject: Finding['subject'], drive: Drive): SvgLine[] {
  const own = cellsOf(subject)
  const current = channelNamed(drive.channels, 'pack_current')
  const first = own[0] === undefined ? undefined : channelNamed(drive.channels, `cell_voltage.${own[0]}`)
  if (!current || !first) return []
  const timeS = first.timeS.filter((_, i) => i % Math.ceil(first.timeS.length / ROWS) === 0)
  const cells = [...drive.channels.values()].filter(({ id }) => id.startsWith('cell_voltage.'))
  if (cells.length < FEWEST_CELLS) return []
  const amperes = linearAt(current, timeS, 2)
  const volts = cells.map((each) => linearAt(each, timeS, 5))
  const middle = timeS.map((_, i) => median(volts.map((each) => each[i]!)))
  const lines = new Map<string, SvgLine>()
  const put = (label: string, x: number, y: number) => {
    const { x: xs, y: ys } = lines.get(label) ?? { x: [], y: [] }
    lines.set(label, { label, x: [...xs, x], y: [...ys, y] })
  }
  for (const rows of binsOf(amperes)) {
    const at = median(rows.map((i) => amperes[i]!))
    const offMv = volts.map((each) => median(rows.map((i) => 1e3 * (each[i]! - middle[i]!))))
    for (const cell of own) {
      const off = offMv[cells.findIndex(({ id }) => id === `cell_voltage.${cell}`)]
      if (off !== undefined && Number.isFinite(off)) put(`Cell ${cell}`, at, off)
    }
    const peers = sortedFinite(
      offMv.filter((_, i) => !own.some((cell) => cells[i]!.id === `cell_voltage.${cell}`)),
    )
    put('peers, highest 5 %', at, quantileSorted(peers, 0.95))
    put('peers, lowest 5 %', at, quantileSorted(peers, 0.05))
  }
  const named = own.flatMap((cell) => lines.get(`Cell ${cell}`) ?? [])
  if (named.length === 0 || named[0]!.x.length < 3) return []
  return [...named, lines.get('peers, highest 5 %')!, lines.get('peers, lowest 5 %')!]
}

function cellsOf({ type, index }: Finding['subject']): number[] {
  if (index === undefined) return []
  if (type === 'cell-pair') return [index, index + 1]
  return type === 'cell' || type === 'joint' ? [index] : []
}

/** Rows by current, in as many even steps as the drive's currents fill. */
function binsOf(amperes: Float64Array): number[][] {
  const sorted = sortedFinite(amperes)
  if (sorted.length === 0) return []
  const low = quantileSorted(sorted, 0.005)
  const step = (quantileSorted(sorted, 0.995) - low) / BINS
  if (!(step > 0)) return []
  const bins = Array.from({ length: BINS }, (): number[] => [])
  amperes.forEach((a, i) => {
    const at = Math.floor((a - low) / step)
    if (at >= 0 && at < BINS) bins[at]!.push(i)
  })
  return bins.filter((rows) => rows.length >= FEWEST)
}
