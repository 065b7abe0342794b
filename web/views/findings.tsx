import type { Review } from '../../shared/review.ts'
import { distanceText, lengthText, numberText, partlyRead, withInterval } from '../../shared/wording.ts'
import { BeforeTouching } from '../parts/before-touching.tsx'
import { Compare } from '../parts/compare.tsx'
import { FoldLine } from '../parts/fold-line.tsx'
import { hrefOf } from '../route.ts'
import { AskedLines } from './asked.tsx'
import { DriveFigures } from './drive-figures.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { FindingCard } from './finding-card.tsx'
import { findingTree } from './finding-tree.ts'

/** Said in the address where the person has closed all findings. */
const NONE = 'none'

/** What can hurt, the verdict, what was found with its evidence; then a line each for all the rest. */
export function Findings({ drive, item }: ViewProps) {
  const { review, summary } = drive
  const { findings, verdict } = review
  const { loud, notes } = findingTree(findings)
  const asked = item !== '' && Number(item) in findings ? Number(item) : null
  const chosen = asked ?? (item === NONE ? null : (loud[0]?.at ?? null))
  const open = chosen === null ? undefined : findings[chosen]
  // A caution in full above or in the opened finding is said by name beside the others.
  const said = [...verdict.before_touching, ...(open?.cautions ?? [])]
  const chosenNote = notes.find(({ at }) => at === chosen)
  const card = (branch: (typeof loud)[number]) => (
    <FindingCard key={branch.at} drive={drive} branch={branch} chosen={chosen} said={said} closed={NONE} />
  )
  return (
    <>
      <BeforeTouching verdict={verdict} />
      <div class="verdict">
        <h1>{verdict.sentence}</h1>
        {partlyRead(review.drive).map((each) => (
          <p key={each}>{each}</p>
        ))}
        {verdict.state === 'cannot-drive' ? (
          <a class="button main" href={hrefOf({ page: 'drive', id: summary.id, view: 'start', item: '' })}>
            The start, and what to check in order
          </a>
        ) : null}
      </div>
      <ul class="cards">{loud.map(card)}</ul>
      {chosenNote ? <ul class="cards">{card(chosenNote)}</ul> : null}
      <div class="folds">
        {notes.length === 0 ? null : (
          <FoldLine
            id="group-note"
            name="Worth knowing"
            words={notes.length === 1 ? notes[0]!.finding.headline : `${notes.length} notes.`}
          >
            {() => <ul class="cards">{notes.filter((each) => each !== chosenNote).map(card)}</ul>}
          </FoldLine>
        )}
        <AskedLines review={review} />
        <FoldLine id="group-drive" name="The drive" words={driveText(review)}>
          {() => <DriveFigures review={review} />}
        </FoldLine>
      </div>
      <Compare drive={drive} />
    </>
  )
}

/** The drive in one line: only what the log tells. */
function driveText({ drive, energy }: Review): string {
  const facts = [
    lengthText(drive.duration_s),
    distanceText(drive.distance_km),
    energy.out_wh === null ? null : `${withInterval(energy.out_wh, energy.out_wh_plus_minus, 'Wh')} out`,
    energy.in_wh === null ? null : `${withInterval(energy.in_wh, energy.in_wh_plus_minus, 'Wh')} back in`,
    drive.peak.current_a === null ? null : `highest current ${numberText(drive.peak.current_a)} A`,
  ]
  return facts.filter((fact) => fact !== null).join(', ')
}
