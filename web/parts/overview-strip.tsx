import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import type { Finding, Review } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { clockText, SEVERITY_WORDS } from '../../shared/wording.ts'
import { useWindow } from '../chart/use-window.ts'
import { around, showSpan, showWhole, state } from '../state.ts'
import { useStore } from '../store.ts'
import { markPlaces } from './mark-places.ts'
import { Shape } from './severity-mark.tsx'

type Segment = Review['drive']['segments'][number]

/** What the strip's outline is drawn from: the first of these that was logged. */
const OUTLINES = ['speed', 'motor_speed', 'pack_current', 'pack_voltage', 'link_voltage']

/**
 * The whole drive as one strip, in sight above every chart: how fast the car went, what it did, where findings lie,
 * and the stretch that is shown. A drag takes a stretch, a click the one under it, a double click the whole drive.
 */
export function OverviewStrip({
  drive,
  onFinding,
}: {
  drive: DriveAnswer
  onFinding?: (at: number) => void
}) {
  const span = useStore(state, (now) => now.span)
  const cursorS = useStore(state, (now) => now.cursorS)
  const endS = Math.max(drive.summary.duration_s, 1e-6)
  const share = (atS: number) => `${Math.min(100, Math.max(0, (atS / endS) * 100)).toFixed(3)}%`
  const width = ([from, to]: Span) => `${Math.max(0.2, ((to - from) / endS) * 100).toFixed(3)}%`
  const { segments } = drive.review.drive
  const { findings } = drive.review
  const { box, width: widthPx } = useWidth()
  const loud = findings.flatMap((finding, at) => (finding.severity === 'note' ? [] : [{ finding, at }]))
  const onsetOf = (finding: Finding) => finding.onset_s ?? finding.span_s[0]
  const marks = markPlaces(
    loud.map(({ finding }) => onsetOf(finding) / endS),
    widthPx,
  )
  return (
    <section class="overview" aria-label="The whole drive">
      <div class={loud.length > 0 ? 'overview-marks' : ''} ref={box}>
        {loud.map(({ finding, at }, i) =>
          marks[i] === undefined ? null : (
            <button
              key={finding.id}
              type="button"
              class={`overview-mark mark-${finding.severity}`}
              style={{ left: `${marks[i]}px` }}
              title={finding.headline}
              aria-label={`${SEVERITY_WORDS[finding.severity].word} at ${clockText(onsetOf(finding))}: ${finding.headline}`}
              onClick={() => (onFinding ? onFinding(at) : showSpan(around(finding.span_s)))}
            >
              <Shape kind={finding.severity} />
            </button>
          ),
        )}
      </div>
      {/* biome-ignore lint/a11y/useKeyWithClickEvents: the list of stretches and the charts' keys do the same */}
      <div
        class="overview-line"
        role="img"
        aria-label={inWords(segments)}
        onPointerDown={(event) => drag(event, drive)}
        onDblClick={showWhole}
      >
        <Outline drive={drive} endS={endS} />
        {segments.map((segment) => (
          <span
            key={segment.span_s[0]}
            class={`segment segment-${segment.type}`}
            style={{ left: share(segment.span_s[0]), width: width(segment.span_s) }}
            title={stretchText(segment)}
          />
        ))}
        {findings.map((finding) =>
          finding.severity === 'note' ? null : (
            <span
              key={finding.id}
              class={`overview-span mark-${finding.severity}`}
              style={{ left: share(finding.span_s[0]), width: width(finding.span_s) }}
            />
          ),
        )}
        <span class="overview-window" style={{ left: share(span[0]), width: width(span) }} />
        {cursorS === null ? null : <span class="overview-cursor" style={{ left: share(cursorS) }} />}
      </div>
      <div class="overview-scale tabular">
        <span>0:00</span>
        <span>{clockText(endS / 2)}</span>
        <span>{clockText(endS)}</span>
      </div>
    </section>
  )
}

/** An element's width as it stands. */
function useWidth() {
  const box = useRef<HTMLDivElement>(null)
  const [width, setWidth] = useState(0)
  useEffect(() => {
    const element = box.current!
    const watch = new ResizeObserver(() => setWidth(element.clientWidth))
    watch.observe(element)
    return () => watch.disconnect()
  }, [])
  return { box, width }
}

/** How fast the car went, as a filled outline; where that was not logged, another channel's size. */
function Outline({ drive, endS }: { drive: DriveAnswer; endS: number }) {
  const id = OUTLINES.find((each) => drive.channels.some((channel) => channel.id === each))
  const ids = useMemo(() => (id === undefined ? [] : [id]), [id])
  const whole = useMemo<Span>(() => [0, endS], [endS])
  const points = useWindow(drive.summary.id, ids, whole, endS).get(id ?? '')
  const path = useMemo(() => {
    if (!points) return ''
    const { timeS, values } = points
    const most = values.reduce((a, b) => (Number.isNaN(b) ? a : Math.max(a, Math.abs(b))), 0)
    if (!(most > 0)) return ''
    const parts = ['M0 100']
    for (let i = 0; i < values.length; i++) {
      const value = values[i]!
      if (!Number.isNaN(value))
        parts.push(
          `L${((timeS[i]! / endS) * 1000).toFixed(1)} ${(100 - (Math.abs(value) / most) * 88).toFixed(1)}`,
        )
    }
    return `${parts.join('')}L1000 100Z`
  }, [points, endS])
  return (
    <svg class="overview-outline" viewBox="0 0 1000 100" preserveAspectRatio="none" aria-hidden="true">
      <path d={path} />
    </svg>
  )
}

/** The stretches of the drive by name: any of them fills the charts. */
export function Stretches({ drive }: { drive: DriveAnswer }) {
  const [from, to] = useStore(state, (now) => now.span)
  const { segments } = drive.review.drive
  if (segments.length < 2) return null
  const whole = from === 0 && to >= drive.summary.duration_s
  const shown = segments.findIndex(({ span_s }) => span_s[0] === from && span_s[1] === to)
  return (
    <label class="field">
      Stretch
      <select
        value={whole ? 'whole' : String(shown)}
        onChange={(event) => {
          const segment = segments[Number(event.currentTarget.value)]
          if (segment) showSpan(segment.span_s)
          else showWhole()
        }}
      >
        <option value="whole">whole drive</option>
        {whole || shown >= 0 ? null : <option value="-1">as shown</option>}
        {segments.map((segment, at) => (
          <option key={segment.span_s[0]} value={at}>
            {stretchText(segment)}
          </option>
        ))}
      </select>
    </label>
  )
}

const stretchText = ({ type, span_s: [from, to] }: Segment) =>
  `${type}, ${clockText(from)} to ${clockText(to)}`

const inWords = (segments: readonly Segment[]) =>
  `The drive, stretch by stretch: ${segments.slice(0, 12).map(stretchText).join('; ')}${segments.length > 12 ? ` and ${segments.length - 12} more` : ''}.`

/** Under this many pixels a drag is a click. */
const CLICK_PX = 4

/** A drag shows the stretch between its ends; a click the stretch of the drive under it. */
function drag(event: PointerEvent, { summary, review }: DriveAnswer): void {
  const line = event.currentTarget as HTMLElement
  const box = line.getBoundingClientRect()
  const atS = (x: number) => ((x - box.left) / box.width) * summary.duration_s
  const from = event.clientX
  line.setPointerCapture(event.pointerId)
  const move = ({ clientX }: PointerEvent) => {
    if (Math.abs(clientX - from) >= CLICK_PX)
      showSpan([Math.min(atS(from), atS(clientX)), Math.max(atS(from), atS(clientX))])
  }
  const end = ({ clientX }: PointerEvent) => {
    line.removeEventListener('pointermove', move)
    line.removeEventListener('pointerup', end)
    line.removeEventListener('pointercancel', end)
    if (Math.abs(clientX - from) >= CLICK_PX) return
    const at = atS(from)
    const found = review.drive.segments.find(({ span_s }) => span_s[0] <= at && at < span_s[1])
    if (found) showSpan(found.span_s)
  }
  line.addEventListener('pointermove', move)
  line.addEventListener('pointerup', end)
  line.addEventListener('pointercancel', end)
}
