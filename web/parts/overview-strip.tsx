import type { DriveAnswer } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import { clockText, lengthText, SEVERITY_WORDS } from '../../shared/wording.ts'
import { around, showSpan, state } from '../state.ts'
import { useStore } from '../store.ts'
import { Shape } from './severity-mark.tsx'

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
            style={{ left: share(finding.onset_s ?? finding.span_s[0]) }}
            title={finding.headline}
            aria-label={`${SEVERITY_WORDS[finding.severity].word} at ${clockText(finding.onset_s ?? finding.span_s[0])}: ${finding.headline}`}
            onClick={() => showSpan(around(finding.span_s))}
          >
            <Shape kind={finding.severity} />
          </button>
        ))}
      </div>
      <div class="overview-line">
        {segments.map((segment) => (
          <button
            key={segment.span_s[0]}
            type="button"
            class={`segment segment-${segment.type}`}
            style={{ left: share(segment.span_s[0]), width: width(segment.span_s) }}
            title={`${segment.type}, ${lengthText(segment.span_s[1] - segment.span_s[0])}`}
            aria-label={`Show ${segment.type} from ${clockText(segment.span_s[0])} to ${clockText(segment.span_s[1])}`}
            onClick={() => showSpan(segment.span_s)}
          >
            <span>{segment.type}</span>
          </button>
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
