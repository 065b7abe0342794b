import type { Span } from '../../shared/units.ts'
import type { PlotLine, PlotLook, PlotMark } from './plot-look.ts'

/** What drawing over or under the lines needs of the plot. */
interface Surface {
  readonly ctx: CanvasRenderingContext2D
  readonly bbox: {
    readonly left: number
    readonly top: number
    readonly width: number
    readonly height: number
  }
  valToPos(value: number, scale: string, canvasPixels?: boolean): number
}

export function drawShade(u: Surface, shade: Span | null, colour: string): void {
  if (!shade) return
  const { left, top, width, height } = u.bbox
  const from = Math.max(left, u.valToPos(shade[0], 'x', true))
  const to = Math.min(left + width, Math.max(from + 3, u.valToPos(shade[1], 'x', true)))
  if (to <= from) return
  u.ctx.save()
  u.ctx.fillStyle = colour
  // Light over the stretch, full along its upper edge: lines and grid stay legible over it.
  u.ctx.globalAlpha = 0.4
  u.ctx.fillRect(from, top, to - from, height)
  u.ctx.globalAlpha = 1
  u.ctx.fillRect(from, top, to - from, 4 * devicePixelRatio)
  u.ctx.restore()
}

/** Lane `at` of so many, counted from the top, drawn from this height on. */
export const laneBase = (at: number, lanes: number): number => lanes - 1 - at

/** How much of its lane a switch's step takes. */
export const LANE_STEP = 0.62

export function drawLaneNames(u: Surface, lines: readonly PlotLine[], colour: string): void {
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.fillStyle = colour
  u.ctx.font = `${13 * scale}px "Aftermile Sans", sans-serif`
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

export function drawLimits(u: Surface, limits: PlotLook['limits'], colour: string): void {
  const { left, width } = u.bbox
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.strokeStyle = u.ctx.fillStyle = colour
  u.ctx.lineWidth = 2 * scale
  u.ctx.setLineDash([12 * scale, 5 * scale])
  u.ctx.font = `bold ${14 * scale}px "Aftermile Sans", sans-serif`
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

export function drawMarks(u: Surface, marks: readonly PlotMark[], colour: string): void {
  const { left, top, width, height } = u.bbox
  const scale = devicePixelRatio
  u.ctx.save()
  u.ctx.strokeStyle = u.ctx.fillStyle = colour
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
    u.ctx.font = `bold ${13 * scale}px "Aftermile Sans", sans-serif`
    u.ctx.textAlign = 'left'
    u.ctx.fillText(label, x + 4 * scale, top + 13 * scale)
  }
  u.ctx.restore()
}
