import { useEffect, useMemo, useRef } from 'preact/hooks'
import type { ChannelInfo } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import { clockText } from '../../shared/wording.ts'
import { useDark } from '../parts/use-dark.ts'
import { moveBy, showSpan, showWhole, state, zoomAbout } from '../state.ts'
import { useStore } from '../store.ts'
import { sharedColumns } from './columns.ts'
import { LANE_PX } from './draw-over.ts'
import { Extremes } from './extremes.tsx'
import { LineKey } from './line-key.tsx'
import { createPlot, type Plot } from './plot.ts'
import type { PlotMark } from './plot-look.ts'
import { useWindow } from './use-window.ts'
import { changeText, valueText } from './value-text.ts'

export interface TimeChartProps {
  readonly driveId: string
  readonly endS: number
  readonly channels: readonly ChannelInfo[]
  /** Of many alike, those that are told apart: the others stand first, thin and grey, without a key each. */
  readonly odd?: readonly string[] | undefined
  readonly height?: number
  readonly limits?: readonly { readonly value: number; readonly label: string }[]
  readonly shade?: Span | null
  readonly events?: readonly PlotMark[]
  readonly showTime?: boolean
  readonly onRemove?: ((id: string) => void) | undefined
}

const NO_LIMITS: readonly { value: number; label: string }[] = []
const NO_EVENTS: readonly PlotMark[] = []

/**
 * One chart over time. All time charts share the shown stretch, the cursor and the measuring marks through the page's
 * state. Keys: arrows move the cursor (with Shift: the view), + and − zoom, Home shows the whole drive, A and B set
 * the marks.
 */
export function TimeChart(props: TimeChartProps) {
  const { driveId, endS, channels, odd, showTime = true } = props
  const told = odd ? channels.filter(({ id }) => odd.includes(id)) : channels
  const height = areLanes(channels) ? LANE_PX * channels.length + (showTime ? 54 : 20) : (props.height ?? 170)
  const { limits = NO_LIMITS, shade = null, events = NO_EVENTS } = props
  const span = useStore(state, pickSpan)
  const cursorS = useStore(state, pickCursor)
  const markA = useStore(state, pickA)
  const markB = useStore(state, pickB)
  const dark = useDark()
  const box = useRef<HTMLDivElement>(null)
  const plot = useRef<Plot | null>(null)
  const key = channels.map(({ id }) => id).join(' ')
  // The ids stand for the channels.
  const ids = useMemo(() => channels.map(({ id }) => id), [key])
  const points = useWindow(driveId, ids, span, endS)
  const shadeKey = shade ? shade.join() : ''
  const limitKey = limits.map(({ value, label }) => `${value}${label}`).join()

  // The keys stand for lists that are made anew on each drawing.
  useEffect(() => {
    const element = box.current!
    const made = createPlot(
      element,
      {
        lanes: areLanes(channels),
        lines: channels.map(({ id, label, kind, labels }) => ({
          label,
          held: kind !== 'number',
          words: kind === 'code' ? (labels ?? []) : null,
          quiet: odd !== undefined && !odd.includes(id),
        })),
        unit: channels[0]?.unit ?? '',
        limits,
        shade,
        marks: [],
        showTime,
        dark,
      },
      EVENTS,
      element.clientWidth,
      height,
    )
    plot.current = made
    const watch = new ResizeObserver(() => made.resize(element.clientWidth, height))
    watch.observe(element)
    return () => {
      watch.disconnect()
      made.destroy()
      plot.current = null
    }
  }, [key, dark, height, showTime, shadeKey, limitKey])

  // The plot is made anew when any of these change, and then wants its data, span and marks again.
  const remade = `${key} ${dark} ${height} ${showTime} ${shadeKey} ${limitKey}`
  useEffect(() => {
    plot.current?.setSpan(span)
  }, [span, remade])
  useEffect(() => {
    if (points.size === 0) return
    plot.current?.setData(sharedColumns(ids.map((id) => points.get(id))))
  }, [points, ids, remade])
  useEffect(() => {
    plot.current?.setCursor(cursorS)
  }, [cursorS, span, points, remade])
  useEffect(() => {
    const ends = [markA === null ? [] : [mark(markA, 'A')], markB === null ? [] : [mark(markB, 'B')]].flat()
    plot.current?.setMarks([...events, ...ends])
  }, [markA, markB, events, remade])

  const others = channels.length - told.length
  const names = `${told.map(({ label }) => label).join(', ')}${others > 0 ? ` and ${others} alike` : ''}`
  const stem = odd ? null : commonStem(channels)
  // Bands carry their names; a key is needed only where it takes one off.
  const named = !areLanes(channels) || props.onRemove !== undefined
  return (
    <figure class="chart">
      <figcaption class="chart-keys">
        {stem ? (
          <strong>
            {stem}
            {channels[0]?.unit ? <span class="unit"> {channels[0].unit}</span> : null}
          </strong>
        ) : null}
        {(named ? told : []).map((channel, at) => (
          <LineKey
            key={channel.id}
            channel={
              stem ? { ...channel, label: channel.label.slice(stem.length).trim(), unit: '' } : channel
            }
            says={channel.label}
            sample={!areLanes(channels)}
            value={valueText(channel, points.get(channel.id), cursorS)}
            change={changeText(channel, points.get(channel.id), markA, markB)}
            at={at}
            dark={dark}
            onRemove={props.onRemove}
          />
        ))}
        {others > 0 ? <span class="soft">grey: the {others} others</span> : null}
      </figcaption>
      {/* biome-ignore lint/a11y/useSemanticElements: a drawing with keys has no element of its own */}
      <div
        class="chart-box"
        ref={box}
        role="group"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the chart takes keys
        tabIndex={0}
        aria-label={`Chart of ${names} from ${clockText(span[0])} to ${clockText(span[1])}. Arrow keys move the cursor, plus and minus zoom.`}
        onKeyDown={onKey}
        style={{ height: `${height}px` }}
      />
      <Extremes points={points} span={span} channels={told} />
    </figure>
  )
}

/** "Module temperature" where every line is one of its numbers: then it is said once. */
function commonStem(channels: readonly ChannelInfo[]): string | null {
  if (channels.length < 3) return null
  const stems = new Set(channels.map(({ label, unit }) => `${label.replace(/\s*\d+$/, '')} ${unit}`))
  const stem = channels[0]!.label.replace(/\s*\d+$/, '')
  return stems.size === 1 && stem !== channels[0]!.label ? stem : null
}

/** Switches and states are bands above each other. */
const areLanes = (channels: readonly ChannelInfo[]) =>
  channels.length > 0 && channels.every(({ kind }) => kind !== 'number')

const pickSpan = (now: { span: Span }) => now.span
const pickCursor = (now: { cursorS: number | null }) => now.cursorS
const pickA = (now: { markA: number | null }) => now.markA
const pickB = (now: { markB: number | null }) => now.markB
const mark = (atS: number, label: string): PlotMark => ({ atS, label, strong: true })

const EVENTS = {
  cursor: (atS: number | null) => state.set({ cursorS: atS }),
  stretch: showSpan,
  zoom: zoomAbout,
  move(byS: number) {
    const [from, to] = state.get().span
    showSpan([from + byS, to + byS])
  },
  click: (atS: number) => state.set({ cursorS: atS }),
  dragMode: () => state.get().drag,
}

function onKey(event: KeyboardEvent): void {
  const { span, cursorS } = state.get()
  const length = span[1] - span[0]
  const at = cursorS ?? span[0] + length / 2
  const move = (by: number) => {
    const next = Math.min(span[1], Math.max(span[0], at + by))
    state.set({ cursorS: next })
  }
  const actions: Record<string, () => void> = {
    ArrowLeft: () => (event.shiftKey ? moveBy(-0.25) : move(-length / 200)),
    ArrowRight: () => (event.shiftKey ? moveBy(0.25) : move(length / 200)),
    '+': () => zoomAbout(at, 0.5),
    '=': () => zoomAbout(at, 0.5),
    '-': () => zoomAbout(at, 2),
    Home: showWhole,
    a: () => state.set({ markA: at }),
    b: () => state.set({ markB: at }),
    Escape: () => state.set({ markA: null, markB: null, cursorS: null }),
  }
  const action = actions[event.key]
  if (!action || event.ctrlKey || event.metaKey || event.altKey) return
  event.preventDefault()
  action()
}
