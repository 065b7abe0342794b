import type { Drive } from '../../shared/drive.ts'
import type { Reading } from '../../shared/reading.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { unseenAreas } from '../../shared/wording.ts'
import { channel, type Facts } from '../facts/facts.ts'
import { extremes } from '../math/stats.ts'
import { linkAtEnd } from './before-touching.ts'
import { besideReadings } from './beside-readings.ts'
import { finishReview } from './finish.ts'
import { joinParts } from './join-parts.ts'
import { askPart, factsOfParts } from './part.ts'
import { openRungs } from './rungs.ts'
import { stillWarming } from './still-warming.ts'
import { summariseDrive } from './summary.ts'
import { withholdDriving } from './withhold-driving.ts'
import { withholdProposals } from './withhold-proposals.ts'

/**
 * The whole review of a drive: every analysis run, sections merged, findings worst first.
 * @param readings taken at the car; they count as input
 */
export function reviewDrive(drive: Drive, vehicle: Vehicle, readings: readonly Reading[] = []): Review {
  const parts = factsOfParts(drive, vehicle, readings)
  const { questions, findings: found, sections, assumptions, moments } = joinParts(parts.map(askPart))
  const timeline = [...drive.events, ...moments]
  const head = summariseDrive(drive, parts)
  const { findings, readings: told } = besideReadings(found, readings)
  const rungs = openRungs({
    questions,
    findings,
    starts: sections.starts,
    drive: head,
    readings,
    packV: highestPackV(parts),
  })
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
    ...(told.length > 0 ? { readings: told } : {}),
  }
  const heats = findings.some(({ kind }) => kind === 'self-heating')
  const warming = heats ? [] : parts.map(stillWarming)
  return finishReview(
    review,
    [link, ...warming].filter((each) => each !== null),
  )
}

/** Highest pack voltage that the logs hold, V; null where none does. */
function highestPackV(parts: readonly Facts[]): number | null {
  const highs = parts.flatMap((facts) => {
    const volts = channel(facts, 'pack_voltage')
    return volts ? [extremes(volts.values).high] : []
  })
  return highs.length > 0 ? Math.max(...highs) : null
}

/** The contract's exit status: 1 stop, 3 too little assessed (start, pedal or pack unseen), else 0. */
export function exitStatus(review: Review): 0 | 1 | 3 {
  if (review.findings.some((finding) => finding.severity === 'stop')) return 1
  return unseenAreas(review).length > 0 ? 3 : 0
}
