import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { unseenAreas } from '../../shared/wording.ts'
import { linkAtEnd } from './before-touching.ts'
import { finishReview } from './finish.ts'
import { joinParts } from './join-parts.ts'
import { askPart, factsOfParts } from './part.ts'
import { openRungs } from './rungs.ts'
import { stillWarming } from './still-warming.ts'
import { summariseDrive } from './summary.ts'
import { withholdDriving } from './withhold-driving.ts'
import { withholdProposals } from './withhold-proposals.ts'

/** The whole review of a drive: every analysis run, sections merged, findings worst first. */
export function reviewDrive(drive: Drive, vehicle: Vehicle): Review {
  const parts = factsOfParts(drive, vehicle)
  const { questions, findings, sections, assumptions, moments } = joinParts(parts.map(askPart))
  const timeline = [...drive.events, ...moments]
  const head = summariseDrive(drive, parts)
  const rungs = openRungs({ questions, findings, starts: sections.starts, drive: head })
  const link = linkAtEnd(parts)
  const review = {
    schema: 2 as const,
    drive: head,
    channels: [...drive.reports].map((report) => ({
      ...report,
      gaps: report.gaps.map(([a, b]): [number, number] => [a, b]),
    })),
    assumptions: [
      ...drive.assumptions.map((what) => ({ what, value: null, unit: '', source: 'learned from the log' })),
      ...assumptions,
    ],
    questions: withholdDriving(questions, rungs),
    findings,
    ...sections,
    regen: withholdProposals(sections.regen, rungs),
    timeline: timeline.sort((a, b) => a.at_s - b.at_s).map((event) => ({ ...event })),
  }
  const heats = findings.some(({ kind }) => kind === 'self-heating')
  const warming = heats ? [] : parts.map(stillWarming)
  return finishReview(
    review,
    [link, ...warming].filter((each) => each !== null),
  )
}

/** The contract's exit status: 1 stop, 3 too little assessed (start, pedal or pack unseen), else 0. */
export function exitStatus(review: Review): 0 | 1 | 3 {
  if (review.findings.some((finding) => finding.severity === 'stop')) return 1
  return unseenAreas(review).length > 0 ? 3 : 0
}
