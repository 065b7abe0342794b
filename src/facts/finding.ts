import type { Kind } from '../../shared/kinds.ts'
import type { Limit } from '../../shared/limits.ts'
import type { Also, Finding, Severity, Subject } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'

interface Judged {
  readonly kind: Kind
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
  /** The question that this finding answers, word for word; where left out, the review names it (`name-questions`). */
  readonly question?: string
  /** Id (`findingId`) of the finding that explains this one, where the analysis knows it; else the review looks. */
  readonly explained_by?: string
  /** Further subjects of the same pattern, this finding being the worst of them. */
  readonly also?: readonly (Pick<Also, 'subject' | 'value'> & Partial<Also>)[]
}

/** "joint-resistance-high/joint-41": what is found, and where. The review tells apart those that are alike. */
export function findingId(kind: Kind, { type, index, name }: Subject): string {
  const which = [index, name?.trim().replaceAll(/[^\p{L}\p{N}.]+/gu, '-')].filter(
    (each) => each !== undefined,
  )
  return `${kind}/${[type, ...which].join('-')}`
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
    id: findingId(judged.kind, judged.subject),
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
    explained_by: judged.explained_by ?? null,
    also: (judged.also ?? []).map((each) => ({ low: null, high: null, plus_minus: null, ...each })),
    question: judged.question ?? null,
  }
}
