import type { PlotEvents } from './plot-look.ts'

/** What the pointer needs of the plot. */
interface PointedPlot {
  readonly over: HTMLElement
  posToVal(left: number, scale: string): number
  setSelect(box: { left: number; top: number; width: number; height: number }, fire?: boolean): void
}

/** Pointer and wheel on the drawing area. Drags under 4 px are clicks. */
export function listenTo(u: PointedPlot, events: PlotEvents): void {
  const { over } = u
  let fromX: number | null = null
  let lastX = 0
  const xOf = (event: MouseEvent) => event.clientX - over.getBoundingClientRect().left
  const perPixel = () => (u.posToVal(over.clientWidth, 'x') - u.posToVal(0, 'x')) / over.clientWidth
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
