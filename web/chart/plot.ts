import uPlot from 'uplot'
import 'uplot/dist/uPlot.min.css'
import type { Span } from '../../shared/units.ts'
import { clockText, numberText } from '../../shared/wording.ts'
import { lineColour, lineDash, themeColour } from './colours.ts'
import type { PlotColumns } from './columns.ts'

/** The only file that speaks to the plotting library. */
export interface PlotLine {
  readonly label: string
  /** Drawn as steps: switches, states, texts. */
  readonly held: boolean
}

export interface PlotMark {
  readonly atS: number
  readonly label: string
  readonly strong: boolean
}

export interface PlotLook {
  readonly lines: readonly PlotLine[]
  readonly unit: string
  readonly limits: readonly { readonly value: number; readonly label: string }[]
  readonly shade: Span | null
  readonly marks: readonly PlotMark[]
  readonly showTime: boolean
  readonly dark: boolean
  /** Every line is a switch: each has its own lane, on above off. */
  readonly lanes: boolean
  /** Names of a state's values, for the y axis of a text channel. */
  readonly labels: readonly string[] | null
}

export interface PlotEvents {
  /** The pointer stands at this time, or has left. */
  cursor(atS: number | null): void
  /** A stretch was dragged. */
  stretch(span: Span): void
  /** Dragged along: seconds moved. */
  move(byS: number): void
  /** Wheel: factor to zoom by about this time. */
  zoom(atS: number, factor: number): void
  click(atS: number): void
  dragMode(): 'zoom' | 'move'
}

export interface Plot {
  setData(columns: PlotColumns): void
  setSpan(span: Span): void
  setCursor(atS: number | null): void
  setMarks(marks: readonly PlotMark[]): void
  resize(width: number, height: number): void
  destroy(): void
}

const LEFT_AXIS = 74

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
  const font = `15px ${getComputedStyle(document.body).fontFamily}`
  let span: Span = [0, 1]
  let { marks } = look
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
        points: { size: 9, width: 2 },
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
          ...(look.labels ? { font: font.replace('15px', '13px') } : {}),
          values: (_, splits) =>
            splits.map((value) =>
              look.lanes ? '' : look.labels ? (look.labels[value] ?? '') : tickText(value, splits),
            ),
        },
      ],
      series: [
        {},
        ...look.lines.map((line, at) => ({
          label: line.label,
          stroke: lineColour(at, look.dark),
          width: 1.8,
          dash: lineDash(at),
          points: { show: false },
          ...(line.held ? { paths: uPlot.paths.stepped!({ align: 1 }) } : {}),
        })),
      ],
      hooks: {
        drawClear: [(u) => drawShade(u, look.shade)],
        draw: [
          (u) => {
            if (look.lanes) drawLaneNames(u, look.lines)
            drawLimits(u, look.limits)
            drawMarks(u, marks)
          },
        ],
      },
    },
    [[]] as unknown as uPlot.AlignedData,
    element,
  )
  listen(plot, events)
  return {
    setData: (columns) => {
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
  if (look.lanes) return [-0.2, look.lines.length]
  if (look.labels || (look.lines.length > 0 && look.lines.every((line) => line.held) && from >= 0 && to <= 1))
    return [Math.min(0, from) - 0.15, Math.max(1, to) + 0.15]
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

function drawShade(u: uPlot, shade: Span | null): void {
  if (!shade) return
  const { left, top, width, height } = u.bbox
  const from = Math.max(left, u.valToPos(shade[0], 'x', true))
  const to = Math.min(left + width, Math.max(from + 3, u.valToPos(shade[1], 'x', true)))
  if (to <= from) return
  u.ctx.save()
  u.ctx.fillStyle = themeColour('--shade')
  u.ctx.fillRect(from, top, to - from, height)
  u.ctx.restore()
}

/** Lane `at` of so many, counted from the top, drawn from this height on. */
export const laneBase = (at: number, lanes: number): number => lanes - 1 - at

/** How much of its lane a switch's step takes. */
export const LANE_STEP = 0.62

function drawLaneNames(u: uPlot, lines: readonly PlotLine[]): void {
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.fillStyle = themeColour('--ink')
  u.ctx.font = `${13 * scale}px sans-serif`
  u.ctx.textAlign = 'right'
  u.ctx.textBaseline = 'middle'
  lines.forEach((_, at) => {
    const base = laneBase(at, lines.length)
    for (const [value, word] of [
      [base, 'off'],
      [base + LANE_STEP, 'on'],
    ] as const)
      u.ctx.fillText(word, u.bbox.left - 8 * scale, u.valToPos(value, 'y', true))
  })
  u.ctx.restore()
}

function drawLimits(u: uPlot, limits: PlotLook['limits']): void {
  const { left, width } = u.bbox
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.strokeStyle = u.ctx.fillStyle = themeColour('--stop')
  u.ctx.lineWidth = 2 * scale
  u.ctx.setLineDash([12 * scale, 5 * scale])
  u.ctx.font = `bold ${14 * scale}px sans-serif`
  for (const { value, label } of limits) {
    const y = u.valToPos(value, 'y', true)
    u.ctx.beginPath()
    u.ctx.moveTo(left, y)
    u.ctx.lineTo(left + width, y)
    u.ctx.stroke()
    u.ctx.textAlign = 'right'
    u.ctx.fillText(label, left + width - 6 * scale, y - 5 * scale)
  }
  u.ctx.restore()
}

function drawMarks(u: uPlot, marks: readonly PlotMark[]): void {
  const { left, top, width, height } = u.bbox
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.strokeStyle = u.ctx.fillStyle = themeColour('--ink')
  for (const { atS, label, strong } of marks) {
    const x = u.valToPos(atS, 'x', true)
    if (x < left || x > left + width) continue
    u.ctx.globalAlpha = strong ? 1 : 0.55
    u.ctx.lineWidth = (strong ? 2 : 1) * scale
    u.ctx.setLineDash(strong ? [] : [3 * scale, 4 * scale])
    u.ctx.beginPath()
    u.ctx.moveTo(x, top)
    u.ctx.lineTo(x, top + height)
    u.ctx.stroke()
    if (label === '') continue
    u.ctx.font = `bold ${13 * scale}px sans-serif`
    u.ctx.textAlign = 'left'
    u.ctx.fillText(label, x + 4 * scale, top + 13 * scale)
  }
  u.ctx.restore()
}

/** Pointer and wheel on the drawing area. Drags under 4 px are clicks. */
function listen(u: uPlot, events: PlotEvents): void {
  const { over } = u
  let fromX: number | null = null
  let lastX = 0
  const xOf = (event: MouseEvent) => event.clientX - over.getBoundingClientRect().left
  const perPixel = () => (u.scales.x!.max! - u.scales.x!.min!) / over.clientWidth
  over.style.touchAction = 'pan-y'
  over.addEventListener('pointermove', (event) => {
    const x = xOf(event)
    if (fromX === null || events.dragMode() === 'zoom') events.cursor(u.posToVal(x, 'x'))
    if (fromX === null) return
    if (events.dragMode() === 'move') {
      events.move((lastX - x) * perPixel())
      lastX = x
    } else
      u.setSelect(
        { left: Math.min(fromX, x), top: 0, width: Math.abs(x - fromX), height: over.clientHeight },
        false,
      )
  })
  over.addEventListener('pointerleave', () => events.cursor(null))
  over.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return
    fromX = lastX = xOf(event)
    over.setPointerCapture(event.pointerId)
  })
  const drop = (event: PointerEvent) => {
    if (fromX === null) return
    const x = xOf(event)
    const [low, high] = [Math.min(fromX, x), Math.max(fromX, x)]
    fromX = null
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false)
    if (event.type === 'pointercancel') return
    if (high - low < 4) events.click(u.posToVal(x, 'x'))
    else if (events.dragMode() === 'zoom') events.stretch([u.posToVal(low, 'x'), u.posToVal(high, 'x')])
  }
  over.addEventListener('pointerup', drop)
  over.addEventListener('pointercancel', drop)
  over.addEventListener(
    'wheel',
    (event) => {
      if (!event.ctrlKey && !event.shiftKey) return
      event.preventDefault()
      const turn = event.deltaY || event.deltaX
      events.zoom(u.posToVal(xOf(event), 'x'), turn > 0 ? 1.25 : 0.8)
    },
    { passive: false },
  )
}
