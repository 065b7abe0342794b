import type { Finding, Question } from '../../shared/review.ts'
import { RUNG_QUESTIONS } from '../facts/rung-questions.ts'

type Doubted = Pick<Finding, 'kind' | 'subject'>

/** Channels that decide whether a car may roll, and the questions that are theirs (the contract). */
const OWN: readonly (readonly [channel: RegExp, asks: (question: Question) => boolean])[] = [
  [/^pedal_/, ({ area }) => area === 'pedal'],
  [/^brake_/, ({ area }) => area === 'brake'],
  [/^isolation_/, ({ area }) => area === 'isolation'],
  [/^contactor_|^link_voltage$/, ({ question }) => question === RUNG_QUESTIONS.contactors],
]

/** The channel of pedal, brake, isolation or contactors whose unit is in doubt; null where none is. */
export function doubtedControl(findings: readonly Doubted[]): string | null {
  const names = findings.flatMap(({ kind, subject }) =>
    kind === 'unit-doubtful' ? [subject.name ?? ''] : [],
  )
  return names.find((name) => OWN.some(([channel]) => channel.test(name))) ?? null
}

/** "Nothing found" by what is left of such a channel's log becomes "not assessed"; what was found stands. */
export function withholdDoubtful(questions: readonly Question[], findings: readonly Doubted[]): Question[] {
  const doubted = findings.flatMap(({ kind, subject }) =>
    kind === 'unit-doubtful' ? [subject.name ?? ''] : [],
  )
  return questions.map((each) => {
    const own = OWN.find(([channel, asks]) => asks(each) && doubted.some((name) => channel.test(name)))
    if (!own || each.state !== 'nothing-found') return each
    return {
      ...each,
      state: 'not-assessed' as const,
      missing: doubted.filter((name) => own[0].test(name)),
      why: `the unit of a channel that it needs is in doubt; by the others: ${each.why}`,
      to_assess: 'put the unit right in the column\u2019s name or the signal table, and review the log again',
      rung: 'standing' as const,
      smallest_seen: null,
      chance: null,
    }
  })
}
