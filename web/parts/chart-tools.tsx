import { clockText, lengthText } from '../../shared/wording.ts'
import { moveBy, showWhole, state, zoomAbout } from '../state.ts'
import { useStore } from '../store.ts'

/** Large buttons for what the wheel and the keys do, and what dragging does. */
export function ChartTools() {
  const span = useStore(state, (now) => now.span)
  const drag = useStore(state, (now) => now.drag)
  const zoom = (factor: number) => {
    const { span, cursorS } = state.get()
    zoomAbout(cursorS ?? (span[0] + span[1]) / 2, factor)
  }
  return (
    <div class="chart-tools" role="toolbar" aria-label="Charts">
      <button type="button" onClick={() => moveBy(-0.5)} aria-label="Earlier">
        ◀
      </button>
      <button type="button" onClick={() => moveBy(0.5)} aria-label="Later">
        ▶
      </button>
      <button type="button" onClick={() => zoom(0.5)} aria-label="Zoom in">
        +
      </button>
      <button type="button" onClick={() => zoom(2)} aria-label="Zoom out">
        −
      </button>
      <button type="button" onClick={showWhole}>
        Whole drive
      </button>
      <button
        type="button"
        title="What dragging on a chart does; press to change it"
        onClick={() => state.set({ drag: drag === 'zoom' ? 'move' : 'zoom' })}
      >
        Dragging {drag === 'zoom' ? 'zooms' : 'moves'}
      </button>
      <span class="shown tabular">
        {clockText(span[0], span[1] - span[0] < 20)} to {clockText(span[1], span[1] - span[0] < 20)} (
        {lengthText(span[1] - span[0])})
      </span>
    </div>
  )
}
