import type { DriveAnswer } from '../../shared/api.ts'
import type { Finding } from '../../shared/review.ts'
import {
  cautionName,
  figureText,
  firstSentence,
  limitText,
  sentence,
  whenText,
} from '../../shared/wording.ts'
import { SeverityMark } from '../parts/severity-mark.tsx'
import { choose } from '../route.ts'
import { FindingDetail } from './finding-detail.tsx'
import type { Branch } from './finding-tree.ts'

interface CardProps {
  readonly drive: DriveAnswer
  readonly branch: Branch
  /** Place in the review of the opened finding. */
  readonly chosen: number | null
  /** Cautions that stand in full elsewhere on the page. */
  readonly said: readonly string[]
  /** Item of the address where nothing is opened. */
  readonly closed: string
}

/** A finding with what it explains beneath it, always in sight; opened, with its evidence. */
export function FindingCard(props: CardProps) {
  const { drive, branch, chosen, said, closed } = props
  const { finding, at, beneath } = branch
  const open = at === chosen
  return (
    <li class={`card card-${finding.severity} ${open ? 'card-chosen' : ''}`}>
      <button type="button" aria-expanded={open} onClick={() => choose(open ? closed : String(at))}>
        <SeverityMark kind={finding.severity} />
        <span class="headline">{sentence(finding.headline)}</span>
        {open ? null : <Short finding={finding} driveS={drive.summary.duration_s} said={said} />}
      </button>
      {beneath.length === 0 ? null : (
        <div class="explains">
          <p>Explains, and stands beneath it:</p>
          <ul>
            {beneath.map((each) => (
              <FindingCard key={each.at} {...props} branch={each} />
            ))}
          </ul>
        </div>
      )}
      {open ? (
        <section class="chosen" aria-label="The chosen finding">
          <FindingDetail drive={drive} finding={finding} />
        </section>
      ) : null}
    </li>
  )
}

/** A closed finding in three lines: figure with limit and time; the next step; its cautions. */
function Short({ finding, driveS, said }: { finding: Finding; driveS: number; said: readonly string[] }) {
  const limit = limitText(finding)
  const facts = [
    finding.value === null || finding.headline.includes('±') ? null : figureText(finding),
    limit === null ? null : `limit ${limit}`,
    whenText(finding.span_s, driveS),
    finding.also.length > 0 ? `${finding.also.length} more alike` : null,
  ].filter((fact) => fact !== null)
  const cautions = finding.cautions.map((each) =>
    said.some((full) => full.includes(each)) ? `${cautionName(each)} (in full on this page)` : each,
  )
  return (
    <>
      <span class="figure">{facts.join(' · ')}</span>
      <span class="card-next">
        <b>Next:</b> {sentence(firstSentence(finding.next_step))}
      </span>
      {cautions.length === 0 ? null : (
        <span class="card-care">
          <b>Take care:</b> {cautions.map(sentence).join(' ')}
        </span>
      )}
    </>
  )
}
