import { namesInWords } from '../../shared/channels.ts'
import type { Assumption, Finding, Question, Review } from '../../shared/review.ts'
import { type Advice, standing } from './drive-advice.ts'
import type { Facts } from './facts.ts'

/** The parts of the review that analyses fill, beside questions and findings. */
export type Sections = Pick<
  Review,
  | 'starts'
  | 'charges'
  | 'check_sheet'
  | 'cells'
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
  missing: readonly string[],
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

/** A question that the log answers, with the smallest fault that it would have shown with that chance. */
export function assessed(
  area: Question['area'],
  question: string,
  found: boolean,
  why: string,
  smallest: { readonly value: number | null; readonly unit: string; readonly chance?: number } = {
    value: null,
    unit: '',
  },
): Question {
  return {
    area,
    question,
    state: found ? 'found' : 'nothing-found',
    missing: [],
    why: namesInWords(why),
    to_assess: null,
    smallest_seen: smallest.value,
    unit: smallest.unit,
    chance: smallest.value === null ? null : (smallest.chance ?? 0.9),
  }
}
