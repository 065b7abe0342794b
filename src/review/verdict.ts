import type { Area } from '../../shared/kinds.ts'
import {
  type Finding,
  type Review,
  VERDICT_STATES,
  type Verdict,
  type VerdictState,
} from '../../shared/review.ts'
import { plainClause, stepInSentence, unseenAreas } from '../../shared/wording.ts'
import { LINK_LEFT } from '../start/models/start-losses.ts'
import { hazards } from './before-touching.ts'

/** What a verdict is made of. */
export type Judged = Pick<Review, 'findings' | 'questions' | 'starts' | 'charges'> & {
  readonly drive: Pick<Review['drive'], 'distance_km'>
}

/** The findings that keep the car from driving: the last start did not come through, or drive was lost for good. */
export function keepsFromDriving({ findings, starts }: Pick<Judged, 'findings' | 'starts'>): Finding[] {
  // The key alone, turned after the loss, is no attempt: it brings nothing back.
  const tried = starts.findLast((each) => each.reached !== 'waiting' || each.first_failed !== null)
  const lost = tried?.lost_s ?? null
  return findings.filter(
    (each) =>
      (each.kind === 'no-drive' && each.severity === 'stop') ||
      (each.kind === 'drive-lost' && each.severity !== 'note' && lost !== null && each.span_s[0] >= lost - 1),
  )
}

/** The whole in one state and one sentence (the contract), with what can hurt the person at the car. */
export function verdictOf(judged: Judged, beforeTouching: readonly string[]): Verdict {
  const { findings } = judged
  const stuck = keepsFromDriving(judged)
  const unseen = unseenAreas(judged)
  const holds: Readonly<Record<VerdictState, boolean>> = {
    'cannot-drive': stuck.length > 0,
    stop: findings.some(({ severity }) => severity === 'stop'),
    attention: findings.some(({ severity }) => severity === 'attention'),
    'too-little-assessed': unseen.length > 0,
    'nothing-found': findings.every(({ severity }) => severity === 'note') && unseen.length === 0,
  }
  const [state = 'nothing-found', ...also] = VERDICT_STATES.filter((each) => holds[each])
  return {
    state,
    also,
    sentence: `${clauses(state, judged, stuck, unseen).join('; ')}.`,
    before_touching: [...new Set([...beforeTouching, ...hazards(findings)])],
  }
}

function clauses(
  state: VerdictState,
  judged: Judged,
  stuck: readonly Finding[],
  unseen: readonly Area[],
): string[] {
  const { findings, questions } = judged
  const notSeen = unseen.length > 0 ? [unseenWords(judged, unseen)] : []
  const own = (severity: string) =>
    findings.filter(
      (each) => each.severity === severity && each.explained_by === null && !stuck.includes(each),
    )
  const of = (severity: 'stop' | 'attention', lead: string): string[] => {
    // A cause that explains a stop stands with it: the first in the review's order is the part to open.
    const all = findings.filter((each) => each.severity === severity && !stuck.includes(each))
    const first = own(severity)[0] ?? all[0]
    if (!first) return []
    const more = all.length - 1
    return [`${lead}${plainClause(first.headline)}`, ...(more > 0 ? [`${more} more of that weight`] : [])]
  }
  switch (state) {
    case 'cannot-drive':
      return [
        `The car cannot drive: ${whatStopped(stuck[0]!)}`,
        ...of('stop', 'against handing over speaks too: '),
      ]
    case 'stop':
      return [...of('stop', 'Speaks against handing over: '), ...notSeen]
    case 'attention':
      return [...of('attention', 'Needs attention: '), ...notSeen]
    case 'too-little-assessed':
      return [`Too little was assessed to conclude: ${unseenWords(judged, unseen)}`]
    default: {
      const open = questions.filter((each) => each.state === 'not-assessed').length
      const rest = open > 0 ? [`${open} could not be assessed`] : []
      return [`Nothing was found in the ${questions.length - open} questions that this log answers`, ...rest]
    }
  }
}

/** A log of a charge or of a parked car says so; else what could not be seen. */
function unseenWords({ starts, charges, questions }: Judged, unseen: readonly Area[]): string {
  const watched = questions.some(({ area, state }) => area === 'start' && state !== 'not-assessed')
  if (!unseen.includes('start') || starts.length > 0 || !watched)
    return `nothing of ${areasInWords(unseen)} could be seen`
  const rest = unseen.filter((area) => area !== 'start')
  return [
    charges.length > 0 ? 'the log shows a charge and no start' : 'the log shows no start and no drive',
    ...(rest.length > 0 ? [`nothing of ${areasInWords(rest)} could be seen`] : []),
  ].join(', and ')
}

function whatStopped(finding: Finding): string {
  if (finding.headline.includes(LINK_LEFT)) return `drive was lost and did not come back, ${LINK_LEFT}`
  const step = stepInSentence(finding.subject.name ?? 'a step')
  if (finding.kind === 'drive-lost') return `drive was lost and did not come back, ${step} changed first`
  return `${step} is the first step of the start that failed`
}

const AREA_WORDS: Readonly<Record<Area, string>> = {
  log: 'the log',
  start: 'the start',
  pack: 'the pack',
  heat: 'heat',
  pedal: 'the accelerator',
  brake: 'the brakes',
  isolation: 'isolation',
  energy: 'energy',
}

const areasInWords = (areas: readonly Area[]): string =>
  areas
    .map((area) => AREA_WORDS[area])
    .join(', ')
    .replace(/, ([^,]*)$/, ' and $1')
