import { useEffect } from 'preact/hooks'
import type { ChannelInfo, DriveAnswer } from '../../shared/api.ts'
import type { Finding } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { figureText, limitText, numberText, sentence, subjectText, whenText } from '../../shared/wording.ts'
import { TimeChart } from '../chart/time-chart.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { IntervalStrip } from '../parts/interval-strip.tsx'
import { SeverityMark } from '../parts/severity-mark.tsx'
import { go, hrefOf } from '../route.ts'
import { around, showSpan, state } from '../state.ts'
import { CellFit } from './cell-panel.tsx'
import { PrechargeChart } from './precharge-chart.tsx'
import { viewOfFinding } from './view-of-finding.ts'

/** One finding opened: figure, limit, why, what to do next, and the charts that show it. */
export function FindingDetail({ drive, finding }: { drive: DriveAnswer; finding: Finding }) {
  const groups = chartGroups(drive.channels, finding.evidence.channels)
  const limit = limitText(finding)
  const place = viewOfFinding(finding)
  const [from, to] = finding.evidence.span_s
  useEffect(() => showSpan(around([from, to])), [from, to])
  return (
    <article class="detail">
      <SeverityMark kind={finding.severity} />
      <h2>{finding.headline}</h2>
      <div class="detail-head">
        <div>
          <dl class="facts-grid">
            <dt>Where</dt>
            <dd>{subjectText(finding.subject)}</dd>
            {finding.value === null ? null : (
              <>
                <dt>Figure</dt>
                <dd class="big-figure">{figureText(finding)}</dd>
              </>
            )}
            <dt>Limit</dt>
            <dd>
              {limit ?? 'none'}
              {finding.limit_source ? <span class="source"> ({finding.limit_source})</span> : null}
            </dd>
            <dt>When</dt>
            <dd>
              {whenText(finding.span_s, drive.summary.duration_s)}{' '}
              <button type="button" class="inline" onClick={() => showMe(drive, finding)}>
                Show me on the drive
              </button>
              {place ? (
                <a
                  class="button inline"
                  href={hrefOf({ page: 'drive', id: drive.summary.id, view: place.view, item: place.item })}
                >
                  {place.words}
                </a>
              ) : null}
            </dd>
          </dl>
          <IntervalStrip drive={drive} finding={finding} />
        </div>
        <div>
          <div class="next-step">
            <h3>Next step</h3>
            <p>{finding.next_step}</p>
          </div>
          {finding.cautions.length > 0 ? (
            <div class="cautions">
              <h3>Take care</h3>
              <ul>
                {finding.cautions.map((caution) => (
                  <li key={caution}>{caution}</li>
                ))}
              </ul>
            </div>
          ) : null}
        </div>
      </div>
      {groups.length > 0 ? <ChartTools /> : null}
      {groups.map((channels) => (
        <TimeChart
          key={channels.map(({ id }) => id).join()}
          driveId={drive.summary.id}
          endS={drive.summary.duration_s}
          channels={channels}
          height={150}
          shade={shaded(finding, drive.summary.duration_s)}
          limits={limitsFor(finding, channels)}
        />
      ))}
      <CauseChart drive={drive} finding={finding} />
      <h3>Why</h3>
      <p>{finding.reason}</p>
      <Rivals finding={finding} />
    </article>
  )
}

/** The finding's stretch, unless that is nearly the whole drive: then shading says nothing. */
function shaded({ span_s }: Finding, durationS: number): Span | null {
  return span_s[1] - span_s[0] > 0.8 * durationS ? null : span_s
}

/** What was fitted, over the points it was fitted to, for findings that rest on the fit of a cell or of a precharge. */
function CauseChart({ drive, finding }: { drive: DriveAnswer; finding: Finding }) {
  const { subject, span_s } = finding
  if (subject.type === 'precharge') {
    const run = drive.review.precharge.find(
      (row) => row.span_s[0] < span_s[1] + 1 && row.span_s[1] > span_s[0] - 1,
    )
    return run ? <PrechargeChart drive={drive} run={run} /> : null
  }
  if (!['joint', 'cell', 'cell-pair'].includes(subject.type) || subject.index === undefined) return null
  return <CellFit drive={drive} index={subject.index} />
}

function Rivals({ finding }: { finding: Finding }) {
  if (finding.rivals.length === 0) return null
  return (
    <>
      <h3>What else it could be</h3>
      <ul class="rivals">
        {finding.rivals.map((rival, at) => (
          <li key={at}>
            <strong>
              {rival.kind.replaceAll('-', ' ')}, {subjectText(rival.subject)}
            </strong>
            {rival.likelihood_ratio === null ? null : (
              <p>The finding explains the log {ratioText(rival.likelihood_ratio)} as well.</p>
            )}
            <p>
              <b>For it:</b> {sentence(rival.for)}
            </p>
            <p>
              <b>Against it:</b> {sentence(rival.against)}
            </p>
            <p>
              <b>Decided by:</b> {sentence(rival.decided_by)}
            </p>
          </li>
        ))}
      </ul>
    </>
  )
}

const ratioText = (ratio: number) => (ratio > 1000 ? 'over 1000 times' : `${numberText(ratio, 2)} times`)

/** Evidence channels, a chart a unit; at most four charts of at most six lines. */
export function chartGroups(all: readonly ChannelInfo[], ids: readonly string[]): ChannelInfo[][] {
  const groups = new Map<string, ChannelInfo[]>()
  for (const id of ids) {
    const channel = all.find((each) => each.id === id)
    if (!channel) continue
    const key = channel.labels ? channel.id : `${channel.unit} ${channel.kind === 'number'}`
    const group = groups.get(key) ?? []
    if (group.length < 6) groups.set(key, [...group, channel])
  }
  return [...groups.values()].slice(0, 4)
}

function limitsFor(finding: Finding, channels: readonly ChannelInfo[]) {
  if (finding.limit === null || finding.unit === '' || channels[0]?.unit !== finding.unit) return []
  return [{ value: finding.limit, label: `limit ${numberText(finding.limit)} ${finding.unit}` }]
}

/** Moves every chart to the finding's moment and opens the Drive view with its channels. */
function showMe(drive: DriveAnswer, finding: Finding): void {
  const groups = chartGroups(drive.channels, finding.evidence.channels)
  state.set({ charts: groups.map((group) => group.map(({ id }) => id)) })
  showSpan(around(finding.evidence.span_s))
  go({ page: 'drive', id: drive.summary.id, view: 'drive', item: '' })
}
