import { namesInWords } from '../../shared/channels.ts'
import type { Assumption, Finding, Question, Review } from '../../shared/review.ts'
import { capital, numberText, unitWord } from '../../shared/wording.ts'
import { type Advice, standing } from './drive-advice.ts'
import type { AnyId, Facts } from './facts.ts'

/** The parts of the review that analyses fill, beside questions and findings. */
export type Sections = Pick<
  Review,
  | 'starts'
  | 'charges'
  | 'charge_sessions'
  | 'check_sheet'
  | 'cells'
  | 'cell_rest'
  | 'modules'
  | 'pedal'
  | 'regen'
  | 'precharge'
  | 'isolation'
  | 'energy'
  | 'timeline'
>

/** What one analysis says: its questions' states, its findings and the section of the review it owns. */
export interface Answer {
  readonly questions: readonly Question[]
  readonly findings: readonly Finding[]
  readonly sections?: Partial<Sections>
  readonly assumptions?: readonly Assumption[]
}

export interface Analysis {
  readonly name: string
  readonly run: (facts: Facts) => Answer
}

/** A question that the log cannot answer. */
export function notAssessed(
  area: Question['area'],
  question: string,
  missing: readonly AnyId[],
  why: string,
  toAssess: string | Advice | null,
  unit = '',
): Question {
  const advice = typeof toAssess === 'string' ? standing(toAssess) : toAssess
  return {
    area,
    question,
    state: 'not-assessed',
    missing: [...missing],
    why: namesInWords(why),
    to_assess: advice === null ? null : namesInWords(advice.text),
    ...(advice === null ? {} : { rung: advice.rung }),
    smallest_seen: null,
    unit,
    chance: null,
  }
}

/** The smallest fault that this log would have shown, with that chance; beside it what decides and what was read. */
export interface Smallest {
  readonly value: number | null
  readonly unit: string
  readonly chance?: number
  /** The limit of the fault, in the same unit. */
  readonly limit?: number | null
  /** The worst that was read, in the same unit. */
  readonly measured?: number | null
  /** What to log or drive where the smallest fault is too large to say anything. */
  readonly toAssess?: string | Advice
}

/** Where the smallest fault is over so many times its limit, "nothing found" says nothing (issue 12). */
const BLIND = 2

/** A question that the log answers, with the smallest fault that it would have shown with that chance. */
export function assessed(
  area: Question['area'],
  question: string,
  found: boolean,
  why: string,
  smallest: Smallest = { value: null, unit: '' },
): Question {
  const { value, unit, limit = null, measured = null } = smallest
  if (!found && value !== null && limit !== null && limit > 0 && value > BLIND * limit)
    return notAssessed(
      area,
      question,
      [],
      `nothing under ${numberText(value)} ${unitWord(unit)} would have shown, and ${numberText(limit)} ${unitWord(unit)} is the limit. ${capital(why)}`,
      smallest.toAssess ?? null,
      unit,
    )
  return {
    area,
    question,
    state: found ? 'found' : 'nothing-found',
    missing: [],
    why: namesInWords(why),
    to_assess: null,
    smallest_seen: value,
    unit,
    chance: value === null ? null : (smallest.chance ?? 0.9),
    ...(limit === null ? {} : { limit }),
    ...(measured === null ? {} : { measured }),
  }
}
