import { clockText, numberText } from '../../shared/wording.ts'

/** One line of a printed chart. Lines are told apart by dashes and a label at their end, not by colour. */
export interface SvgLine {
  readonly label: string
  readonly x: readonly number[]
  readonly y: readonly number[]
}

export interface SvgChart {
  readonly title: string
  readonly unit: string
  readonly lines: readonly SvgLine[]
  readonly limits: readonly { readonly label: string; readonly value: number }[]
  /** Stretch to shade: the finding's moment. */
  readonly shade: readonly [number, number] | null
  readonly xIsTime: boolean
  readonly xLabel: string
}

const WIDTH = 680
const HEIGHT = 190
const LEFT = 56
const RIGHT = 110
const TOP = 22
const BOTTOM = 34
const DASHES = ['', '7 3', '2 2', '9 3 2 3', '1 3', '12 4']

export const escapeText = (text: string): string =>
  text.replace(/[&<>"']/g, (char) => `&#${char.charCodeAt(0)};`)

/** A chart as SVG text, black on white, legible in grey. Empty text where no line has two points. */
export function svgChart(chart: SvgChart): string {
  const points = chart.lines.flatMap((line) => line.x.map((x, i) => [x, line.y[i]!] as const))
  const real = points.filter(([x, y]) => Number.isFinite(x) && Number.isFinite(y))
  if (real.length < 2) return ''
  const xs = extent(real.map(([x]) => x))
  const ys = extent([...real.map(([, y]) => y), ...chart.limits.map(({ value }) => value)], 0.06)
  const toX = (x: number) => LEFT + ((x - xs[0]) / (xs[1] - xs[0])) * (WIDTH - LEFT - RIGHT)
  const toY = (y: number) => HEIGHT - BOTTOM - ((y - ys[0]) / (ys[1] - ys[0])) * (HEIGHT - TOP - BOTTOM)
  const parts: string[] = []
  if (chart.shade) {
    const from = toX(Math.max(xs[0], chart.shade[0]))
    const to = Math.max(from + 2, toX(Math.min(xs[1], chart.shade[1])))
    parts.push(
      `<rect x="${n(from)}" y="${TOP}" width="${n(to - from)}" height="${HEIGHT - TOP - BOTTOM}" fill="#e8e8e8"/>`,
    )
  }
  for (const y of steps(ys, 4))
    parts.push(
      `<line x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${n(toY(y))}" y2="${n(toY(y))}" stroke="#ccc" stroke-width="0.6"/>`,
      text(LEFT - 6, toY(y) + 3.5, numberText(y), 'end'),
    )
  for (const x of chart.xIsTime ? timeSteps(xs, 6) : steps(xs, 6))
    parts.push(text(toX(x), HEIGHT - BOTTOM + 14, chart.xIsTime ? clockText(x) : numberText(x), 'middle'))
  for (const { label, value } of chart.limits)
    parts.push(
      `<line x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${n(toY(value))}" y2="${n(toY(value))}" stroke="#000" stroke-width="1.2" stroke-dasharray="10 3"/>`,
      text(WIDTH - RIGHT + 6, toY(value) + 3.5, label, 'start', true),
    )
  const labelled = spreadLabels(
    chart.lines.map((line) => toY(lastReal(line.y) ?? ys[0])),
    12,
  )
  chart.lines.forEach((line, at) => {
    const dash = DASHES[at % DASHES.length]!
    parts.push(
      `<path d="${path(line, toX, toY)}" fill="none" stroke="#111" stroke-width="${at === 0 ? 1.3 : 1}"${dash ? ` stroke-dasharray="${dash}"` : ''}/>`,
      text(WIDTH - RIGHT + 6, labelled[at]! + 3.5, line.label, 'start'),
    )
  })
  parts.push(text(LEFT, 13, `${chart.title}${chart.unit ? `, ${chart.unit}` : ''}`, 'start', true))
  parts.push(text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 4, chart.xLabel, 'middle'))
  return `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escapeText(chart.title)}">${parts.join('')}</svg>`
}

/** Bars, one a number, with the accused ones filled solid and named. */
export function svgBars(
  title: string,
  unit: string,
  bars: readonly { index: number; value: number; plusMinus: number | null; marked: boolean }[],
  limits: readonly { label: string; value: number }[],
): string {
  if (bars.length === 0) return ''
  const ys = extent([0, ...bars.map((bar) => bar.value), ...limits.map(({ value }) => value)], 0.08)
  const toY = (y: number) => HEIGHT - BOTTOM - ((y - ys[0]) / (ys[1] - ys[0])) * (HEIGHT - TOP - BOTTOM)
  const step = (WIDTH - LEFT - RIGHT) / bars.length
  const parts: string[] = []
  for (const y of steps(ys, 4))
    parts.push(
      `<line x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${n(toY(y))}" y2="${n(toY(y))}" stroke="#ccc" stroke-width="0.6"/>`,
      text(LEFT - 6, toY(y) + 3.5, numberText(y), 'end'),
    )
  bars.forEach((bar, at) => {
    const x = LEFT + at * step
    const top = toY(Math.max(0, bar.value))
    const height = Math.max(0.6, Math.abs(toY(bar.value) - toY(0)))
    parts.push(
      `<rect x="${n(x + step * 0.12)}" y="${n(top)}" width="${n(step * 0.76)}" height="${n(height)}" fill="${bar.marked ? '#000' : '#bbb'}"/>`,
    )
    if (bar.marked) parts.push(text(x + step / 2, top - 4, String(bar.index), 'middle', true))
    else if (at % Math.ceil(bars.length / 24) === 0)
      parts.push(text(x + step / 2, HEIGHT - BOTTOM + 13, String(bar.index), 'middle'))
  })
  for (const { label, value } of limits)
    parts.push(
      `<line x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${n(toY(value))}" y2="${n(toY(value))}" stroke="#000" stroke-width="1.2" stroke-dasharray="10 3"/>`,
      text(WIDTH - RIGHT + 6, toY(value) + 3.5, label, 'start', true),
    )
  parts.push(text(LEFT, 13, `${title}, ${unit}`, 'start', true))
  return `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escapeText(title)}">${parts.join('')}</svg>`
}

function path(line: SvgLine, toX: (x: number) => number, toY: (y: number) => number): string {
  let out = ''
  let pen = 'M'
  for (let i = 0; i < line.x.length; i++) {
    if (!Number.isFinite(line.y[i]!)) {
      pen = 'M'
      continue
    }
    out += `${pen}${n(toX(line.x[i]!))} ${n(toY(line.y[i]!))}`
    pen = 'L'
  }
  return out
}

function text(x: number, y: number, words: string, anchor: string, bold = false): string {
  return `<text x="${n(x)}" y="${n(y)}" text-anchor="${anchor}"${bold ? ' font-weight="bold"' : ''}>${escapeText(words)}</text>`
}

const n = (value: number) => String(Math.round(value * 10) / 10)

function extent(values: readonly number[], margin = 0): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const value of values) {
    if (value < low) low = value
    if (value > high) high = value
  }
  if (high === low) return [low - 0.5, high + 0.5]
  const extra = (high - low) * margin
  return [low - extra, high + extra]
}

/** Round steps inside the range: 1, 2 or 5 times a power of ten. */
function steps([low, high]: readonly [number, number], about: number): number[] {
  const raw = (high - low) / about
  const power = 10 ** Math.floor(Math.log10(raw))
  const step = [1, 2, 5, 10].map((m) => m * power).find((each) => each >= raw)!
  const out: number[] = []
  for (let i = Math.ceil(low / step); i * step <= high + step * 1e-9; i++) out.push(i * step)
  return out
}

/** Steps that are round on a clock. */
export function timeSteps([low, high]: readonly [number, number], about: number): number[] {
  const wanted = (high - low) / about
  const step = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600].find((each) => each >= wanted)
  if (step === undefined || wanted < 0.5) return steps([low, high], about)
  const out: number[] = []
  for (let i = Math.ceil(low / step); i * step <= high; i++) out.push(i * step)
  return out
}

function lastReal(values: readonly number[]): number | undefined {
  for (let i = values.length - 1; i >= 0; i--) if (Number.isFinite(values[i]!)) return values[i]
  return undefined
}

/** Pushes labels apart so that none covers another. */
function spreadLabels(at: readonly number[], apart: number): number[] {
  const order = at.map((y, i) => ({ y, i })).sort((a, b) => a.y - b.y)
  for (let i = 1; i < order.length; i++) order[i]!.y = Math.max(order[i]!.y, order[i - 1]!.y + apart)
  const over = (order[order.length - 1]?.y ?? 0) - (HEIGHT - BOTTOM)
  if (over > 0) for (const each of order) each.y -= over
  const out: number[] = []
  for (const { y, i } of order) out[i] = y
  return out
}
