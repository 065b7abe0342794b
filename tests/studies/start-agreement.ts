import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { stepInSentence } from '../../shared/wording.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { LINK_LEFT } from '../../src/start/models/start-losses.ts'

/**
 * Where a review of a start contradicts itself: verdict, finding, first step told, the check sheet's first open row and
 * `first_failed` must speak of one thing. Empty where they agree.
 */
export function disagreements(drive: Drive, vehicle: Vehicle): string[] {
  return disagreementsIn(reviewDrive(drive, vehicle))
}

/** The same of a review that is there already. */
export function disagreementsIn({ findings, starts, check_sheet: sheet, verdict }: Review): string[] {
  const wrong: string[] = []
  const failed = findings.filter(({ kind, severity }) => kind === 'no-drive' && severity !== 'attention')
  const lost = findings.filter(({ kind, severity }) => kind === 'drive-lost' && severity !== 'note')
  const told = failed.length > 0 ? failed : lost
  const first = sheet.find(({ known }) => known === null)
  if (told.length > 0 && !first) wrong.push('no open row on the sheet')
  if (told.length > 0 && first && !told.some(({ next_step }) => next_step.includes(first.what)))
    wrong.push(`the sheet begins with “${first.what}”, the finding tells “${told[0]!.next_step}”`)
  for (const each of failed)
    if (!starts.some(({ first_failed }) => first_failed === each.subject.name))
      wrong.push(
        `no-drive at ${each.subject.name}, starts say ${starts.map((s) => s.first_failed).join(', ')}`,
      )
  for (const { what, known } of sheet)
    if (known !== null && told.some(({ next_step }) => next_step.includes(what)))
      wrong.push(`told to do “${what}”, which the sheet has struck out`)
  const stuck = failed.some(({ severity }) => severity === 'stop')
  if (stuck && verdict.state !== 'cannot-drive')
    wrong.push(`no-drive says stop, the verdict ${verdict.state}`)
  if (verdict.state === 'cannot-drive' && told.length === 0)
    wrong.push('cannot drive, and no finding says why')
  if (verdict.state === 'cannot-drive' && told.length > 0) {
    // where only the link shows a loss, no part is named
    const named = told.some(({ subject }) =>
      [stepInSentence(subject.name!), LINK_LEFT].some((words) => verdict.sentence.includes(words)),
    )
    if (!named) wrong.push(`the verdict says “${verdict.sentence}”, the finding ${told[0]!.subject.name}`)
  }
  const inFault = findings.some(
    ({ kind, subject, bound }) => kind === 'fault-reported' && subject.name === 'bms' && bound === 'at-least',
  )
  if (inFault && sheet.some(({ known }) => known?.includes('its state is not a fault')))
    wrong.push('the sheet says that its state is not a fault, and the battery unit ends in fault')
  return wrong
}
