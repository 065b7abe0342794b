import uPlot from 'uplot'
import 'uplot/dist/uPlot.min.css'
import type { Span } from '../../shared/units.ts'
import { clockText, numberText } from '../../shared/wording.ts'
import { lineColour, lineDash, themeColour } from './colours.ts'
import { type Band, bandsOf, type PlotColumns } from './columns.ts'
import { drawBands, drawLimits, drawMarks, drawShade } from './draw-over.ts'
import type { PlotEvents, PlotLook, PlotMark } from './plot-look.ts'
import { listenTo } from './plot-pointer.ts'

/** The only file that speaks to the plotting library. */
export interface Plot {
  setData(columns: PlotColumns): void
  setSpan(span: Span): void
  setCursor(atS: number | null): void
  setMarks(marks: readonly PlotMark[]): void
  resize(width: number, height: number): void
  destroy(): void
}

const LEFT_AXIS = 74

/**
 * Width of a line, px; of lines of very many points one pixel, which draws four times as fast (measured: 9 against
 * 38 ms a frame for 12 noisy lines) and looks the same where every column of pixels is full anyway.
 */
const LINE_WIDTH = 1.8
const DENSE_WIDTH = 1
const DENSE = 1200

/** Steps of the time axis, seconds: round on a clock. */
const TIME_STEPS = [
  0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800,
  3600, 7200, 14400,
]

export function createPlot(
  element: HTMLElement,
  look: PlotLook,
  events: PlotEvents,
  width: number,
  height: number,
): Plot {
  const ink = themeColour('--ink')
  const soft = themeColour('--grid')
  const stop = themeColour('--stop')
  const shade = themeColour('--shade')
  const font = `15px ${getComputedStyle(document.body).fontFamily}`
  const quiet = themeColour('--line')
  // The quiet lines come first, behind the others; colours are counted from the first that is told apart.
  const first = look.lines.filter((line) => line.quiet).length
  let span: Span = [0, 1]
  let { marks } = look
  let bands: readonly (readonly Band[])[] = []
  const axis = {
    stroke: ink,
    font,
    grid: { stroke: soft, width: 1 },
    ticks: { stroke: soft, width: 1, size: 6 },
  }
  const plot = new uPlot(
    {
      width,
      height,
      legend: { show: false },
      padding: [10, 14, look.showTime ? 0 : 8, 0],
      cursor: {
        drag: { x: false, y: false, setScale: false },
        points: look.lanes ? { show: false } : { size: 9, width: 2 },
        y: false,
        focus: { prox: -1 },
      },
      scales: {
        x: { time: false, range: () => [span[0], span[1]] },
        y: { range: (_, low, high) => yRange(low, high, look) },
      },
      axes: [
        {
          ...axis,
          show: look.showTime,
          size: 34,
          space: 90,
          incrs: TIME_STEPS,
          values: (_, splits, _axis, _space, step) =>
            splits.map((at) => (step < 0.1 ? `${at.toFixed(3)} s` : clockText(at, step < 1))),
        },
        {
          ...axis,
          size: LEFT_AXIS,
          ...(look.lanes ? { grid: { show: false }, ticks: { show: false } } : {}),
          values: (_, splits) => splits.map((value) => (look.lanes ? '' : tickText(value, splits))),
        },
      ],
      series: [
        {},
        ...look.lines.map((line, at) => ({
          label: line.label,
          stroke: line.quiet ? quiet : lineColour(at - first, look.dark),
          width: line.quiet ? DENSE_WIDTH : LINE_WIDTH,
          dash: line.quiet ? [] : lineDash(at - first),
          points: { show: false },
          ...(look.lanes
            ? { paths: () => null }
            : line.held
              ? { paths: uPlot.paths.stepped!({ align: 1 }) }
              : {}),
        })),
      ],
      hooks: {
        drawClear: [(u) => drawShade(u, look.shade, shade)],
        draw: [
          (u) => {
            if (look.lanes)
              drawBands(
                u,
                look.lines.map((line, at) => ({
                  line,
                  bands: bands[at] ?? [],
                  colour: lineColour(at, look.dark),
                })),
                ink,
              )
            drawLimits(u, look.limits, stop)
            drawMarks(u, marks, ink)
          },
        ],
      },
    },
    [[]] as unknown as uPlot.AlignedData,
    element,
  )
  listenTo(plot, events)
  return {
    setData: (columns) => {
      if (look.lanes) bands = columns.slice(1).map((line) => bandsOf(columns[0], line))
      const dense = columns[0].length > DENSE
      for (const [at, series] of plot.series.entries())
        if (at > 0 && !look.lines[at - 1]!.quiet)
          series.width = first === 0 && dense ? DENSE_WIDTH : LINE_WIDTH
      plot.setData(columns as uPlot.AlignedData, false)
      plot.setScale('x', { min: span[0], max: span[1] })
    },
    setSpan(next) {
      span = next
      plot.setScale('x', { min: next[0], max: next[1] })
    },
    setCursor(atS) {
      const left = atS === null ? -10 : plot.valToPos(atS, 'x')
      const inside = left >= 0 && left <= plot.over.clientWidth
      plot.setCursor({ left: inside ? left : -10, top: inside ? 1 : -10 }, false)
    },
    setMarks(next) {
      marks = next
      plot.redraw(false)
    },
    resize: (w, h) => plot.setSize({ width: w, height: h }),
    destroy: () => plot.destroy(),
  }
}

function yRange(low: number | null, high: number | null, look: PlotLook): uPlot.Range.MinMax {
  let [from, to] = [low ?? 0, high ?? 1]
  for (const { value } of look.limits) {
    from = Math.min(from, value)
    to = Math.max(to, value)
  }
  if (look.lanes) return [0, 1]
  if (to - from < 1e-9) return [from - 0.5, to + 0.5]
  const air = (to - from) * 0.08
  return [from - air, to + air]
}

function tickText(value: number, splits: readonly number[]): string {
  const step = Math.abs((splits[1] ?? 1) - (splits[0] ?? 0))
  if (Math.abs(value) < step * 1e-6) return '0'
  let places = 0
  while (places < 6 && Math.abs(step * 10 ** places - Math.round(step * 10 ** places)) > 1e-6) places++
  return Math.abs(value) >= 100_000 ? numberText(value) : value.toFixed(places).replace('-', '−')
}
