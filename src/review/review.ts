import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { unseenAreas } from '../../shared/wording.ts'
import { clockGroups } from '../drive/clock/clock-groups.ts'
import { findSegments } from '../drive/segments.ts'
import type { Sections } from '../facts/answer.ts'
import { linkAtEnd } from './before-touching.ts'
import { finishReview } from './finish.ts'
import { foldPatterns } from './fold-patterns.ts'
import { linkCauses } from './link-causes.ts'
import { nameQuestions } from './name-questions.ts'
import { withIds, worstFirst } from './order.ts'
import { gatherFacts, runAll, runParts } from './run-all.ts'
import { openRungs } from './rungs.ts'
import { stillWarming } from './still-warming.ts'
import { summariseDrive } from './summary.ts'
import { tidy } from './tidy.ts'
import { withholdDoubtful } from './withhold-doubtful.ts'
import { withholdDriving } from './withhold-driving.ts'
import { withholdProposals } from './withhold-proposals.ts'

const EMPTY: Sections = {
  starts: [],
  charges: [],
  check_sheet: [],
  cells: [],
  modules: [],
  pedal: null,
  regen: null,
  precharge: [],
  isolation: null,
  energy: {
    out_wh: null,
    out_wh_plus_minus: null,
    in_wh: null,
    in_wh_plus_minus: null,
    net_wh: null,
    net_wh_plus_minus: null,
    wh_per_km: null,
    wh_per_km_plus_minus: null,
    ah_out: null,
    ah_out_plus_minus: null,
    ah_in: null,
    ah_in_plus_minus: null,
  },
  timeline: [],
}

/** The whole review of a drive: every analysis run, sections merged, findings worst first. */
export function reviewDrive(drive: Drive, vehicle: Vehicle): Review {
  const facts = gatherFacts(drive, vehicle)
  const parts = clockGroups(drive)
  const answers = (
    parts.length === 1
      ? runAll(facts)
      : runParts(
          parts.map((part) =>
            gatherFacts({ ...part, segments: findSegments(part.channels, part.durationS) }, vehicle),
          ),
        )
  ).map(nameQuestions)
  const sections: Sections = Object.assign({ ...EMPTY }, ...answers.map((answer) => answer.sections ?? {}))
  const told = answers.flatMap((answer) => answer.findings).sort(worstFirst)
  const questions = withholdDoubtful(
    answers.flatMap((answer) => answer.questions),
    told,
  )
  const findings = linkCauses(withIds(foldPatterns(told, facts.layout)), {
    facts,
    cells: sections.cells,
    modules: sections.modules,
  })
  const timeline = [...drive.events, ...answers.flatMap((answer) => answer.sections?.timeline ?? [])]
  const head = summariseDrive(facts)
  const rungs = openRungs({ questions, findings, starts: sections.starts, drive: head })
  const link = linkAtEnd(facts)
  const review = {
    schema: 2 as const,
    drive: head,
    channels: [...drive.reports].map((report) => ({
      ...report,
      gaps: report.gaps.map(([a, b]): [number, number] => [a, b]),
    })),
    assumptions: [
      ...drive.assumptions.map((what) => ({ what, value: null, unit: '', source: 'learned from the log' })),
      ...answers.flatMap((answer) => answer.assumptions ?? []),
    ],
    questions: withholdDriving(questions, rungs),
    findings,
    ...sections,
    regen: withholdProposals(sections.regen, rungs),
    timeline: timeline.sort((a, b) => a.at_s - b.at_s).map((event) => ({ ...event })),
  }
  const warming = findings.some(({ kind }) => kind === 'self-heating') ? null : stillWarming(facts)
  return tidy(
    finishReview(
      review,
      [link, warming].filter((each) => each !== null),
    ),
  )
}

/** The contract's exit status: 1 stop, 3 too little assessed (start, pedal or pack unseen), else 0. */
export function exitStatus(review: Review): 0 | 1 | 3 {
  if (review.findings.some((finding) => finding.severity === 'stop')) return 1
  return unseenAreas(review).length > 0 ? 3 : 0
}
