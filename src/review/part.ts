import type { Drive } from '../../shared/drive.ts'
import { LIMITS } from '../../shared/limits.ts'
import type { Reading } from '../../shared/reading.ts'
import type { Assumption, Finding, Question } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { clockGroups } from '../drive/clock/clock-groups.ts'
import { findSegments } from '../drive/segments.ts'
import type { Sections } from '../facts/answer.ts'
import type { Facts } from '../facts/facts.ts'
import { foldPatterns } from './fold-patterns.ts'
import { linkCauses } from './link-causes.ts'
import { nameQuestions } from './name-questions.ts'
import { withIds, worstFirst } from './order.ts'
import { gatherFacts, runAll } from './run-all.ts'
import { withholdDoubtful } from './withhold-doubtful.ts'

/** What the logs on one clock say: a whole drive, or the part of it whose logs share a clock. */
export interface Part {
  readonly facts: Facts
  readonly questions: Question[]
  readonly findings: Finding[]
  readonly sections: Sections
  readonly assumptions: Assumption[]
  /** Which analysis asked each question, by its place in `ANALYSES`. */
  readonly askedBy: ReadonlyMap<string, number>
  /** Analyses that answered in figures alone, without a question. */
  readonly inFigures: ReadonlySet<number>
  /** Moments that the analyses add to the timeline. */
  readonly moments: Sections['timeline']
}

const EMPTY: Sections = {
  starts: [],
  charges: [],
  check_sheet: [],
  cells: [],
  cell_rest: null,
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

/** Facts of each part of a drive whose logs share a clock; of the drive itself where all do. */
export function factsOfParts(drive: Drive, vehicle: Vehicle, readings: readonly Reading[] = []): Facts[] {
  const parts = clockGroups(drive)
  if (parts.length === 1) return [gatherFacts(drive, vehicle, LIMITS, new Map(), readings)]
  return parts.map((part) =>
    gatherFacts(
      { ...part, segments: findSegments(part.channels, part.durationS) },
      vehicle,
      LIMITS,
      loggedElsewhere(part, parts),
      readings,
    ),
  )
}

/** Channels that other parts hold and this one does not, with their file; a family by its name as well. */
function loggedElsewhere(part: Drive, parts: readonly Drive[]): Map<string, string> {
  const here = new Set([...part.channels.keys()].flatMap(withFamily))
  const found = new Map<string, string>()
  for (const other of parts)
    for (const { id, file } of other.channels.values())
      for (const name of withFamily(id)) if (!here.has(name) && !found.has(name)) found.set(name, file)
  return found
}

const withFamily = (id: string): string[] => [id, ...(/\.\d+$/.test(id) ? [id.replace(/\.\d+$/, '')] : [])]

/** Every question asked of one part, its findings folded and linked: causes and effects lie on one clock. */
export function askPart(facts: Facts): Part {
  const answers = runAll(facts).map(nameQuestions)
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
  return {
    facts,
    questions,
    findings,
    sections,
    askedBy: new Map(
      answers.flatMap((answer, at) => answer.questions.map(({ question }) => [question, at] as const)),
    ),
    inFigures: new Set(
      answers.flatMap((answer, at) => (answer.questions.length === 0 && answer.sections ? [at] : [])),
    ),
    assumptions: answers.flatMap((answer) => answer.assumptions ?? []),
    moments: answers.flatMap((answer) => answer.sections?.timeline ?? []),
  }
}
