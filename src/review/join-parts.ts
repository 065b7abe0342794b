import { namesInWords } from '../../shared/channels.ts'
import type { Finding, Question } from '../../shared/review.ts'
import { plainClause, sentence } from '../../shared/wording.ts'
import type { Sections } from '../facts/answer.ts'
import type { Facts } from '../facts/facts.ts'
import { worstFirst } from './order.ts'
import type { Part } from './part.ts'

/** What the parts of a drive say together; channels of logs on different clocks have not met in any of it. */
export type Joined = Omit<Part, 'facts' | 'askedBy' | 'inFigures'>

/**
 * Every part's findings and questions, once each. One fault that two logs show is one finding, the worse of them. A
 * question that several parts answer is found if any found it, else answered by the log that would have shown the
 * smallest fault; a channel that another part holds is never missing, only on another clock.
 */
export function joinParts(alone: readonly Part[]): Joined {
  if (alone.length === 1) return alone[0]!
  const parts = withoutWaiting(alone)
  return {
    questions: joinQuestions(parts),
    findings: joinFindings(parts),
    sections: joinSections(parts),
    assumptions: parts.flatMap((part) => part.assumptions).filter(firstAlike),
    moments: parts.flatMap((part) => part.moments),
  }
}

const filesOf = ({ drive }: Facts): string => drive.files.map(({ name }) => name).join(' and ')

const firstAlike = <T>(each: T, at: number, all: readonly T[]): boolean =>
  all.findIndex((other) => JSON.stringify(other) === JSON.stringify(each)) === at

function joinFindings(parts: readonly Part[]): Finding[] {
  const told: { part: Part; finding: Finding }[] = []
  for (const part of parts) {
    const id = ownIds(
      part.findings,
      told.map(({ finding }) => finding.id),
    )
    for (const finding of part.findings) {
      const explained = finding.explained_by
      told.push({
        part,
        finding: {
          ...finding,
          id: id(finding.id),
          explained_by: explained === null ? null : id(explained),
          reason: part.facts.drive.files.some(({ clock }) => clock.own)
            ? `${sentence(finding.reason)} Its times are those of ${filesOf(part.facts)}, which shares no clock with the other logs.`
            : finding.reason,
        },
      })
    }
  }
  return onceEach(told)
}

/** The worse of two findings that accuse the same of the same, and what other logs say of it. */
function onceEach(told: readonly { part: Part; finding: Finding }[]): Finding[] {
  const gone = new Map<string, string>()
  const kept: Finding[] = []
  const sameFrom = (a: (typeof told)[number], b: (typeof told)[number]): boolean =>
    a.part !== b.part &&
    a.finding.kind === b.finding.kind &&
    JSON.stringify(a.finding.subject) === JSON.stringify(b.finding.subject)
  const isWorse = (a: Finding, b: Finding): boolean =>
    worstFirst({ ...a, onset_s: 0 }, { ...b, onset_s: 0 }) < 0
  for (const each of told) {
    const alike = told.filter((other) => sameFrom(each, other))
    const before = alike.find(
      (other) =>
        isWorse(other.finding, each.finding) ||
        (!isWorse(each.finding, other.finding) && told.indexOf(other) < told.indexOf(each)),
    )
    if (before) gone.set(each.finding.id, before.finding.id)
    else
      kept.push({
        ...each.finding,
        reason: [
          each.finding.reason,
          ...alike.map(
            ({ part, finding }) =>
              `In ${filesOf(part.facts)} too: ${sentence(plainClause(finding.headline))}`,
          ),
        ].join(' '),
      })
  }
  return kept.map((each) =>
    each.explained_by !== null && gone.has(each.explained_by)
      ? { ...each, explained_by: gone.get(each.explained_by)! }
      : each,
  )
}

/** New names for the ids of a part that other parts have taken; the others keep theirs. */
function ownIds(findings: readonly Finding[], taken: readonly string[]): (id: string) => string {
  const used = new Set(taken)
  const names = new Map<string, string>()
  for (const { id } of findings) {
    let name = id
    for (let n = 2; used.has(name); n++) name = `${id}/${n}`
    used.add(name)
    names.set(id, name)
  }
  return (id) => names.get(id) ?? id
}

/** A log that shows the key alone cannot say that nothing came through where another log shows that it did. */
function withoutWaiting(parts: readonly Part[]): Part[] {
  const drove = parts.some(({ sections }) => cameThrough(sections))
  return parts.map((part) => {
    if (!drove || !onlyWaited(part.sections)) return part
    const findings = part.findings.filter(({ kind }) => kind !== 'no-drive')
    const asked = new Set(
      part.findings.flatMap(({ kind, question }) => (kind === 'no-drive' ? [question] : [])),
    )
    return { ...part, findings, questions: part.questions.filter(({ question }) => !asked.has(question)) }
  })
}

const cameThrough = ({ starts }: Sections): boolean =>
  starts.some(({ reached }) => reached === 'ready' || reached === 'driving')
const onlyWaited = ({ starts }: Sections): boolean => starts.every(({ reached }) => reached === 'waiting')

/** Found before nothing found before not assessed. */
const STATES = ['found', 'nothing-found', 'not-assessed'] as const

interface Asked {
  readonly part: Part
  readonly question: Question
}

function joinQuestions(parts: readonly Part[]): Question[] {
  const asked = new Map<string, Asked[]>()
  for (const part of parts)
    for (const question of part.questions)
      asked.set(question.question, [...(asked.get(question.question) ?? []), { part, question }])
  const figures = new Set(parts.flatMap((part) => [...part.inFigures]))
  return [...asked.values()]
    .filter((all) => all.some(({ part, question }) => !figures.has(part.askedBy.get(question.question)!)))
    .map(joinQuestion)
}

function joinQuestion(all: readonly Asked[]): Question {
  const best = [...all].sort((a, b) => rank(a) - rank(b) || finer(a.question, b.question))[0]!
  const { question } = best
  if (question.state === 'not-assessed') return onAnotherClock(best, all)
  const others = all.filter((each) => each !== best && each.question.state !== 'not-assessed')
  const says = (each: Asked): string =>
    `In ${filesOf(each.part.facts)}: ${sentence(plainClause(each.question.why))}`
  return { ...question, why: [best, ...others].map(says).join(' ') }
}

const rank = ({ question }: Asked): number => STATES.indexOf(question.state)

/** The log that would have shown the smaller fault first; of two that cannot answer, the one that lacks less. */
function finer(a: Question, b: Question): number {
  if (a.state === 'not-assessed') return a.missing.length - b.missing.length
  return (a.smallest_seen ?? Number.POSITIVE_INFINITY) - (b.smallest_seen ?? Number.POSITIVE_INFINITY) || 0
}

/** A question that no part answers alone, where what each lacks stands in another log. */
function onAnotherClock({ part, question }: Asked, all: readonly Asked[]): Question {
  const held = (id: string): boolean => part.facts.elsewhere.has(id)
  if (!question.missing.some(held)) return question
  const places = new Map<string, string>()
  for (const each of all)
    for (const id of each.question.missing) {
      const file = each.part.facts.elsewhere.get(id)
      if (file !== undefined) places.set(id, file)
    }
  const files = [...new Set(places.values())]
  const where = files.map(
    (file) => `${[...places.keys()].filter((id) => places.get(id) === file).join(', ')} (${file})`,
  )
  const missing = question.missing.filter((id) => !held(id))
  const others = files.length > 1 ? 'and' : `with what ${filesOf(part.facts)} holds, and`
  const lacking = missing.length > 0 ? `; not logged: ${missing.join(', ')}` : ''
  return {
    ...question,
    missing,
    why: namesInWords(
      `it takes ${where.join(' and ')} read together ${others} nothing puts these logs on one clock${lacking}`,
    ),
    to_assess: namesInWords(
      [
        'Log in each box one channel that another holds too, such as speed or pack current, or give --offset.',
        ...(missing.length > 0 ? [`Log ${missing.join(', ')}.`] : []),
      ].join(' '),
    ),
    rung: 'standing',
  }
}

/** Each section from the part that fills it most; what belongs to the starts comes from one part. */
function joinSections(parts: readonly Part[]): Sections {
  const most = <K extends keyof Sections>(...keys: readonly K[]): Pick<Sections, K> => {
    const best = parts.reduce((chosen, part) => (filled(part, keys) > filled(chosen, keys) ? part : chosen))
    return Object.fromEntries(keys.map((key) => [key, best.sections[key]])) as Pick<Sections, K>
  }
  return {
    ...most('starts', 'charges', 'check_sheet'),
    ...most('charge_sessions'),
    ...most('cells'),
    ...most('modules'),
    ...most('pedal'),
    ...most('regen'),
    ...most('precharge'),
    ...most('isolation'),
    ...most('energy'),
    timeline: [],
  }
}

const filled = ({ sections }: Part, keys: readonly (keyof Sections)[]): number =>
  keys.reduce((sum, key) => sum + figures(sections[key]), 0)

/** Figures and answers of a section: what is null or in words does not count. */
function figures(value: unknown): number {
  if (typeof value === 'number' || typeof value === 'boolean') return 1
  if (value === null || typeof value !== 'object') return 0
  return Object.values(value).reduce((sum: number, each) => sum + figures(each), 0)
}
