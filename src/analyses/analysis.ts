import { namesInWords } from '../../shared/channels.ts'
import type { Channel, Drive } from '../../shared/drive.ts'
import type { Limit, Limits } from '../../shared/limits.ts'
import type { Assumption, Finding, Question, Review, Severity, Subject } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import type { PackLayout, Vehicle } from '../../shared/vehicle.ts'

/** All that an analysis may know: no file, no clock, no randomness. */
export interface Facts {
  readonly drive: Drive
  readonly vehicle: Vehicle
  readonly layout: PackLayout
  readonly limits: Limits
  /** A model that several analyses need, computed once a drive: `facts.once(packCurrent)`. */
  once<T>(model: (facts: Facts) => T): T
}

/** The parts of the review that analyses fill, beside questions and findings. */
export type Sections = Pick<
  Review,
  | 'starts'
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

export function channel(facts: Facts, id: string): Channel | undefined {
  return facts.drive.channels.get(id)
}

/** All channels of a numbered family in ascending number: `cell_voltage` → cell_voltage.1 … .N. */
export function family(facts: Facts, id: string): { number: number; channel: Channel }[] {
  const found: { number: number; channel: Channel }[] = []
  for (const each of facts.drive.channels.values())
    if (each.id.startsWith(`${id}.`))
      found.push({ number: Number(each.id.slice(id.length + 1)), channel: each })
  return found.sort((a, b) => a.number - b.number)
}

interface Judged {
  readonly kind: string
  readonly subject: Subject
  readonly span_s: Span
  readonly onset_s?: number | null
  readonly value: number | null
  readonly unit: string
  /** Half width of the 95 % interval, or the interval itself where it is lopsided. */
  readonly plusMinus?: number | null
  readonly low?: number | null
  readonly high?: number | null
  readonly bound?: Finding['bound']
  readonly limit: Limit | null
  /** Which side of the limit is bad; default `above`. */
  readonly bad?: 'above' | 'below'
  /** Pedal, torque, brake, isolation and contactors: the estimate alone decides `stop`. */
  readonly stopOnEstimate?: boolean
  /** Where the kind's severity does not come from a limit. */
  readonly severity?: Severity
  readonly headline: string
  readonly reason: string
  readonly next_step: string
  readonly cautions?: readonly string[]
  readonly rivals?: Finding['rivals']
  readonly channels: readonly string[]
  readonly evidence_s?: Span
}

/**
 * Makes a finding and gives it its severity by the contract's rule: `stop` when the whole interval is past the stop
 * limit (for pedal, torque, brake, isolation and contactors when the estimate is), `attention` when the estimate is
 * past its limit, else `note`.
 */
export function finding(judged: Judged): Finding {
  const { value, limit } = judged
  const plusMinus = judged.plusMinus ?? null
  const low = judged.low ?? (value !== null && plusMinus !== null ? value - plusMinus : null)
  const high = judged.high ?? (value !== null && plusMinus !== null ? value + plusMinus : null)
  const below = judged.bad === 'below'
  const past = (figure: number | null, bar: number | null | undefined): boolean =>
    figure !== null && bar !== null && bar !== undefined && (below ? figure < bar : figure > bar)
  const nearEnd = judged.stopOnEstimate ? value : ((below ? high : low) ?? value)
  const severity: Severity =
    judged.severity ??
    (past(nearEnd, limit?.stop)
      ? 'stop'
      : past(value, limit?.attention ?? limit?.stop)
        ? 'attention'
        : 'note')
  return {
    kind: judged.kind,
    severity,
    subject: judged.subject,
    span_s: [judged.span_s[0], judged.span_s[1]],
    onset_s: judged.onset_s ?? judged.span_s[0],
    value,
    unit: judged.unit,
    low,
    high,
    plus_minus: low !== null && high !== null ? (high - low) / 2 : null,
    bound: judged.bound ?? 'exact',
    limit: limit ? ((severity === 'stop' ? limit.stop : null) ?? limit.attention ?? limit.stop) : null,
    limit_source: limit?.source ?? null,
    headline: judged.headline,
    reason: judged.reason,
    next_step: judged.next_step,
    cautions: [...(judged.cautions ?? [])],
    rivals: [...(judged.rivals ?? [])],
    evidence: { channels: [...judged.channels], span_s: [...(judged.evidence_s ?? judged.span_s)] },
  }
}

/** A question that the log cannot answer. */
export function notAssessed(
  area: Question['area'],
  question: string,
  missing: readonly string[],
  why: string,
  toAssess: string | null,
  unit = '',
): Question {
  return {
    area,
    question,
    state: 'not-assessed',
    missing: [...missing],
    why: namesInWords(why),
    to_assess: toAssess === null ? null : namesInWords(toAssess),
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
