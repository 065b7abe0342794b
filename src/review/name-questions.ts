import { KINDS } from '../../shared/kinds.ts'
import type { Finding, Question } from '../../shared/review.ts'
import type { Answer } from '../facts/answer.ts'

/** Words that say nothing of what is asked. */
const IDLE = new Set(
  'does did is was were the a an it its with when how which from any every and or of in on to'.split(' '),
)

const words = (text: string): Set<string> =>
  new Set(
    text
      .toLowerCase()
      .split(/[^\p{L}]+/u)
      .filter((word) => word.length > 1 && !IDLE.has(word))
      .map((word) => word.replace(/(ing|ed|es|s)$/, '')),
  )

/**
 * Every finding names the question that it answers. An analysis that asks one question, or has found one, leaves no
 * choice; where it does, the question that shares most words with the finding is meant, unless the finding says.
 */
export function nameQuestions(answer: Answer): Answer {
  const findings = answer.findings.map((finding) =>
    finding.question === null ? { ...finding, question: questionOf(finding, answer.questions) } : finding,
  )
  return { ...answer, findings, questions: answer.questions.map((each) => held(each, findings)) }
}

function questionOf(finding: Finding, questions: readonly Question[]): string | null {
  const found = questions.filter((each) => each.state === 'found')
  const assessed = questions.filter((each) => each.state !== 'not-assessed')
  const [choice] = [found, assessed, questions].filter((each) => each.length > 0)
  if (!choice) return null
  const mine = words(`${KINDS[finding.kind].words} ${finding.kind.replaceAll('-', ' ')} ${finding.headline}`)
  const shared = ({ question }: Question): number =>
    [...words(question)].filter((word) => mine.has(word)).length
  return choice.reduce((best, each) => (shared(each) > shared(best) ? each : best)).question
}

/** A question that says `found` and that no finding answers is not answered: it says so, and is never passed over. */
function held(question: Question, findings: readonly Finding[]): Question {
  if (question.state !== 'found' || findings.some((each) => each.question === question.question))
    return question
  return {
    ...question,
    state: 'not-assessed',
    why: `something was seen, but no finding tells it: ${question.why}`,
    smallest_seen: null,
    chance: null,
  }
}
