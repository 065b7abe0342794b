import { useEffect } from 'preact/hooks'
import type { ChannelInfo, DriveAnswer } from '../../shared/api.ts'
import { kindWords } from '../../shared/kinds.ts'
import type { Finding } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { figureText, limitText, numberText, sentence, subjectText, whenText } from '../../shared/wording.ts'
import { TimeChart } from '../chart/time-chart.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { Fold } from '../parts/fold-line.tsx'
import { IntervalStrip } from '../parts/interval-strip.tsx'
import { go, hrefOf } from '../route.ts'
import { around, showSpan, state } from '../state.ts'
import { CellFit } from './cell-panel.tsx'
import { Ladders } from './ladders.tsx'
import { PrechargeChart } from './precharge-chart.tsx'
import { viewOfFinding } from './view-of-finding.ts'

/** One finding opened: its figure among its peers, what to do next and with what care, and the picture of the fault. */
export function FindingDetail({ drive, finding }: { drive: DriveAnswer; finding: Finding }) {
  const place = viewOfFinding(finding)
  const [from, to] = finding.evidence.span_s
  const drawn = drawingOf(drive, finding)
  useEffect(() => showSpan(around([from, to])), [from, to])
  return (
    <article class="detail">
      <h2 class="unseen">{finding.headline}</h2>
      <div class="detail-two">
        <div>
          {finding.value === null || finding.headline.includes('±') ? null : (
            <p class="big-figure">{figureText(finding)}</p>
          )}
          <p class="meta">{metaText(drive, finding)}</p>
          <IntervalStrip drive={drive} finding={finding} />
          {finding.also.length === 0 ? null : (
            <Fold words={`${finding.also.length} more alike`}>{() => <AlsoList finding={finding} />}</Fold>
          )}
          <div class="next-step">
            <h3>Do next</h3>
            <p>{sentence(finding.next_step)}</p>
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
        <div class="evidence">
          {drawn ?? <OverTime drive={drive} finding={finding} most={3} />}
          <p class="ways">
            <a href={hrefOf({ page: 'drive', id: drive.summary.id, view: place.view, item: place.item })}>
              {place.words}
            </a>
            <button type="button" class="quiet" onClick={() => showMe(drive, finding)}>
              Show me on the drive
            </button>
          </p>
        </div>
      </div>
      <div class="detail-folds">
        {drawn ? (
          <Fold words="Over time">{() => <OverTime drive={drive} finding={finding} most={4} />}</Fold>
        ) : null}
        <Fold words="How it was judged">
          {() => (
            <>
              <p>{sentence(finding.reason)}</p>
              <Rivals finding={finding} />
            </>
          )}
        </Fold>
      </div>
    </article>
  )
}

/** Where, when, and the limit with its source. */
function metaText(drive: DriveAnswer, finding: Finding): string {
  const limit = limitText(finding)
  const facts = [
    subjectText(finding.subject),
    whenText(finding.span_s, drive.summary.duration_s),
    limit === null ? null : `limit ${limit}${finding.limit_source ? ` (${finding.limit_source})` : ''}`,
  ]
  const text = facts.filter((fact) => fact !== null).join(' · ')
  return text.charAt(0).toUpperCase() + text.slice(1)
}

/** Further subjects of one pattern, each with its figure. */
function AlsoList({ finding: { also, unit } }: { finding: Finding }) {
  return (
    <ul class="also tabular">
      {also.map(({ subject, ...figure }) => (
        <li key={subjectText(subject)}>
          {subjectText(subject)}
          {figure.value === null ? null : (
            <span class="soft"> {figureText({ ...figure, unit, bound: 'exact' })}</span>
          )}
        </li>
      ))}
    </ul>
  )
}

/** So many of one kind are drawn behind those that the evidence names. */
const MOST_ALIKE = 120

/** Numbered channels (cells, sensors) with all of their kind behind them; others as they are. */
function besideItsLike(all: readonly ChannelInfo[], channels: readonly ChannelInfo[]) {
  const families = new Set(channels.map(({ id }) => /^(.+\.)\d+$/.exec(id)?.[1] ?? ''))
  const [family = ''] = [...families]
  const alike = all.filter(({ id }) => family !== '' && id.startsWith(family))
  const odd = channels.map(({ id }) => id)
  if (families.size !== 1 || alike.length <= channels.length || alike.length > MOST_ALIKE) return { channels }
  return { channels: [...alike.filter(({ id }) => !odd.includes(id)), ...channels], odd }
}

/** The evidence channels over time, at most so many charts. */
function OverTime({ drive, finding, most }: { drive: DriveAnswer; finding: Finding; most: number }) {
  const groups = chartGroups(drive.channels, finding.evidence.channels).slice(0, most)
  if (groups.length === 0) return null
  return (
    <>
      <ChartTools />
      {groups.map((channels) => (
        <TimeChart
          key={channels.map(({ id }) => id).join()}
          driveId={drive.summary.id}
          endS={drive.summary.duration_s}
          {...besideItsLike(drive.channels, channels)}
          height={150}
          shade={shaded(finding, drive.summary.duration_s)}
          limits={limitsFor(finding, channels)}
        />
      ))}
    </>
  )
}

/** The finding's stretch, unless that is nearly the whole drive: then shading says nothing. */
function shaded({ span_s }: Finding, durationS: number): Span | null {
  return span_s[1] - span_s[0] > 0.8 * durationS ? null : span_s
}

/** The fault as it looks; null where its channels over time are its picture. */
function drawingOf(drive: DriveAnswer, { kind, subject, span_s }: Finding): preact.JSX.Element | null {
  if (kind === 'no-drive' && drive.review.starts.length > 0)
    return <Ladders starts={drive.review.starts} precharge={drive.review.precharge} />
  if (subject.type === 'precharge') {
    const run = drive.review.precharge.find(
      (row) => row.span_s[0] < span_s[1] + 1 && row.span_s[1] > span_s[0] - 1,
    )
    return run ? <PrechargeChart drive={drive} run={run} /> : null
  }
  if (!['joint', 'cell', 'cell-pair'].includes(subject.type) || subject.index === undefined) return null
  const has = (id: string) => drive.channels.some((channel) => channel.id === id)
  if (!has('pack_current') || !has(`cell_voltage.${subject.index}`)) return null
  if (subject.type !== 'cell-pair') return <CellFit drive={drive} index={subject.index} />
  // A sense lead moves two readings against each other: both are drawn.
  return (
    <>
      <CellFit drive={drive} index={subject.index} height={210} />
      <CellFit drive={drive} index={subject.index + 1} height={210} />
    </>
  )
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
              {sentence(kindWords(rival.kind)).replace(/\.$/, '')}, {subjectText(rival.subject)}
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
    const family = /^(.+)\.\d+$/.exec(channel.id)?.[1] ?? ''
    const key = channel.labels ? channel.id : `${channel.unit} ${channel.kind === 'number'} ${family}`
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
