import type { Span } from '../../shared/units.ts'
import type { Band } from './columns.ts'
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

/** Height of a lane: the channel's name, and its band below. */
export const LANE_PX = 42
const BAND_PX = 20

/**
 * Switches and states as bands, a lane each: on is a box, off a line, a state a box with its word. A word that does not
 * fit its band is left out; the key beside the chart says it at the cursor.
 */
export function drawBands(
  u: Surface,
  lanes: readonly { readonly line: PlotLine; readonly bands: readonly Band[]; readonly colour: string }[],
  ink: string,
): void {
  const scale = devicePixelRatio
  const { left, top, width } = u.bbox
  const { ctx } = u
  ctx.save()
  ctx.beginPath()
  ctx.rect(left, top, width, u.bbox.height)
  ctx.clip()
  ctx.textAlign = 'left'
  ctx.textBaseline = 'middle'
  lanes.forEach(({ line, bands, colour }, at) => {
    const nameY = top + (at * LANE_PX + 10) * scale
    const bandTop = top + (at * LANE_PX + 20) * scale
    const high = BAND_PX * scale
    ctx.fillStyle = ink
    ctx.font = `600 ${13 * scale}px "Aftermile Sans", sans-serif`
    ctx.fillText(line.label, left + 2 * scale, nameY)
    ctx.font = `${13 * scale}px "Aftermile Sans", sans-serif`
    for (const { fromS, toS, value } of bands) {
      const from = Math.max(left, u.valToPos(fromS, 'x', true))
      const to = Math.min(left + width, Math.max(from + scale, u.valToPos(toS, 'x', true)))
      if (to <= left || from >= left + width) continue
      const off = line.words === null && value === 0
      ctx.fillStyle = ctx.strokeStyle = colour
      if (off) ctx.fillRect(from, bandTop + high / 2, to - from, 2 * scale)
      else {
        ctx.globalAlpha = 0.22
        ctx.fillRect(from, bandTop, to - from, high)
        ctx.globalAlpha = 1
        ctx.lineWidth = 1.5 * scale
        if (to - from > 3 * scale) ctx.strokeRect(from, bandTop, to - from, high)
      }
      const word = wordOf(line, value)
      const room = to - from - 10 * scale
      if (room < ctx.measureText(word).width) continue
      ctx.fillStyle = ink
      ctx.fillText(word, from + 5 * scale, bandTop + (off ? high / 2 - 7 * scale : high / 2))
    }
  })
  ctx.restore()
}

/** A switch's or state's value in words. */
export const wordOf = ({ words }: Pick<PlotLine, 'words'>, value: number): string =>
  words === null ? (value === 0 ? 'off' : 'on') : (words[value] ?? String(value))

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
