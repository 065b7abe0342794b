import type { DriveAnswer } from '../../shared/api.ts'
import type { Review } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { clockText, SEVERITY_WORDS } from '../../shared/wording.ts'
import { around, showSpan, showWhole, state } from '../state.ts'
import { useStore } from '../store.ts'
import { Shape } from './severity-mark.tsx'

type Segment = Review['drive']['segments'][number]

/** The whole drive as one strip: what the car did, where findings lie, and the stretch that is shown. */
export function OverviewStrip({ drive }: { drive: DriveAnswer }) {
  const span = useStore(state, (now) => now.span)
  const endS = Math.max(drive.summary.duration_s, 1e-6)
  const share = (atS: number) => `${Math.min(100, Math.max(0, (atS / endS) * 100)).toFixed(3)}%`
  const width = ([from, to]: Span) => `${Math.max(0.2, ((to - from) / endS) * 100).toFixed(3)}%`
  const { segments } = drive.review.drive
  return (
    <section class="overview" aria-label="The whole drive">
      <div class="overview-marks">
        {drive.review.findings.map((finding, at) => (
          <button
            key={at}
            type="button"
            class={`overview-mark mark-${finding.severity}`}
            style={{ left: `clamp(15px, ${share(finding.onset_s ?? finding.span_s[0])}, 100% - 15px)` }}
            title={finding.headline}
            aria-label={`${SEVERITY_WORDS[finding.severity].word} at ${clockText(finding.onset_s ?? finding.span_s[0])}: ${finding.headline}`}
            onClick={() => showSpan(around(finding.span_s))}
          >
            <Shape kind={finding.severity} />
          </button>
        ))}
      </div>
      {/* biome-ignore lint/a11y/useKeyWithClickEvents: the list of stretches beside the charts does the same by keys */}
      <div
        class="overview-line"
        role="img"
        aria-label={inWords(segments)}
        onClick={(event) => showAt(event, drive)}
      >
        {segments.map((segment) => (
          <span
            key={segment.span_s[0]}
            class={`segment segment-${segment.type}`}
            style={{ left: share(segment.span_s[0]), width: width(segment.span_s) }}
            title={stretchText(segment)}
          >
            <span>{segment.type}</span>
          </span>
        ))}
        <span class="overview-window" style={{ left: share(span[0]), width: width(span) }} />
      </div>
      <div class="overview-scale tabular">
        <span>0:00</span>
        <span>{clockText(endS / 2)}</span>
        <span>{clockText(endS)}</span>
      </div>
    </section>
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

/** The stretch under the pointer fills the charts. */
function showAt(event: MouseEvent, { summary, review }: DriveAnswer): void {
  const box = (event.currentTarget as HTMLElement).getBoundingClientRect()
  const atS = ((event.clientX - box.left) / box.width) * summary.duration_s
  const found = review.drive.segments.find(({ span_s }) => span_s[0] <= atS && atS < span_s[1])
  if (found) showSpan(found.span_s)
}
