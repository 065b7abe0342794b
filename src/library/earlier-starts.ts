import type { DriveSummary } from '../../shared/api.ts'
import type { Finding, Review, Start } from '../../shared/review.ts'
import { assessed } from '../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../facts/cautions.ts'
import { finding } from '../facts/finding.ts'
import { median } from '../math/stats.ts'
import { finishAgain } from '../review/finish.ts'
import { type EarlierDrive, opened } from './earlier-cells.ts'
import type { Place } from './place.ts'

/** What the car does by itself once the key is turned; what waits for the driver is not timed. */
const TIMED = ['negative', 'precharge', 'positive', 'inverter', 'ready'] as const
/** Waits for brake and selector in many cars: its time is told, never accused. */
const BY_DRIVER = 'ready'
const LABEL: Readonly<Record<string, string>> = {
  negative: 'the negative contactor',
  precharge: 'precharge',
  positive: 'the positive contactor',
  inverter: 'the inverter',
  ready: 'drive ready',
}
/** Fewer earlier starts have no range worth the name. */
const LEAST_STARTS = 3
/**
 * Far outside: past the earlier range by as much again, by this much, and by this factor of the median. Common
 * practice, no source.
 */
const LEAST_S = 0.2
const FACTOR = 1.5
const ASK = 'Did each step of the start take as long as in this car’s earlier drives?'

/**
 * Good starts of a car's other stored drives, in their order.
 * @param known drives that are open already
 */
export function earlierStarts(
  place: Place,
  others: readonly DriveSummary[],
  known: readonly EarlierDrive[] = [],
): Start[] {
  const open = new Map(known.map((each) => [each.summary.id, each]))
  return others.flatMap((summary) => {
    const own = open.get(summary.id)
    return (own ? [own] : opened(place, summary)).flatMap(({ review }) => review.starts.filter(isGood))
  })
}

const isGood = (start: Start): boolean =>
  start.first_failed === null && (start.reached === 'ready' || start.reached === 'driving')

/** Step → seconds from the step before it; only steps whose moment is seen. */
export function stepTimes(start: Start): Map<string, number> {
  const found = new Map<string, number>()
  const seen = TIMED.flatMap((name) => {
    const step = start.steps.find((each) => each.name === name)
    return step?.held && step.at_s !== null ? [{ name, atS: step.at_s }] : []
  }).sort((a, b) => a.atS - b.atS)
  let beforeS = start.span_s[0]
  for (const { name, atS } of seen) {
    // What is there at once (a contactor that is closed already, a state read on the same row) took no time.
    if (atS - beforeS > 1e-6) found.set(name, atS - beforeS)
    beforeS = atS
  }
  return found
}

/**
 * The review with how long each step of its starts took against the car's earlier good starts: median and range by the
 * step, as figures. A finding only far outside them, and never `stop`: slower is not yet broken.
 */
export function withEarlierStarts(review: Review, earlier: readonly Start[]): Review {
  if (earlier.length === 0 || review.starts.length === 0) return review
  const usual = new Map<string, number[]>()
  for (const start of earlier)
    for (const [name, tookS] of stepTimes(start)) usual.set(name, [...(usual.get(name) ?? []), tookS])
  const resolutionS = slowestPeriod(review)
  const told: string[] = []
  const findings: Finding[] = []
  const starts = review.starts.map((start) => {
    const times = stepTimes(start)
    return {
      ...start,
      steps: start.steps.map((step) => {
        const tookS = times.get(step.name)
        const before = usual.get(step.name)
        if (tookS === undefined || before === undefined) return step
        const figures = {
          took_s: tookS,
          median_s: median(before),
          low_s: Math.min(...before),
          high_s: Math.max(...before),
          starts: before.length,
        }
        told.push(`${LABEL[step.name]} ${sentence(figures)}`)
        const off = farOff(step.name, figures, start, resolutionS)
        if (off) findings.push(off)
        return { ...step, earlier: figures }
      }),
    }
  })
  if (told.length === 0) return review
  const question = assessed(
    'start',
    ASK,
    findings.some(({ severity }) => severity !== 'note'),
    `${told.join('; ')}.`,
    {
      value: Math.max(LEAST_S, 2 * resolutionS),
      unit: 's',
    },
  )
  return finishAgain({
    ...review,
    starts,
    questions: [...review.questions, question],
    findings: [...review.findings, ...findings],
  })
}

type Figures = NonNullable<Start['steps'][number]['earlier']>

const sentence = ({ took_s, median_s, low_s, high_s, starts }: Figures): string =>
  `took ${took_s.toFixed(2)} s, ${
    starts === 1
      ? `in one earlier start ${median_s.toFixed(2)} s`
      : `in ${starts} earlier starts ${median_s.toFixed(2)} s (${low_s.toFixed(2)} to ${high_s.toFixed(2)} s)`
  }`

function farOff(name: string, figures: Figures, start: Start, resolutionS: number): Finding | null {
  const { took_s, median_s, low_s, high_s, starts } = figures
  if (starts < LEAST_STARTS) return null
  const room = Math.max(LEAST_S, high_s - low_s, 2 * resolutionS)
  const slow = took_s > high_s + room && took_s > FACTOR * median_s
  const fast = took_s < low_s - room && took_s < median_s / FACTOR
  if (!slow && !fast) return null
  const atS = start.steps.find((step) => step.name === name)!.at_s!
  return finding({
    kind: 'start-step-time',
    subject: { type: 'start-step', name },
    span_s: [atS - took_s, atS],
    value: took_s,
    unit: 's',
    plusMinus: resolutionS,
    limit: {
      attention: slow ? high_s + room : low_s - room,
      stop: null,
      unit: 's',
      source: 'this car’s earlier starts',
    },
    bad: slow ? 'above' : 'below',
    ...(name === BY_DRIVER ? { severity: 'note' as const } : {}),
    headline: `In this start ${LABEL[name]} took ${took_s.toFixed(2)} s, usually ${median_s.toFixed(2)} s`,
    reason: `In ${starts} earlier starts of this car it took ${low_s.toFixed(2)} to ${high_s.toFixed(2)} s.${
      name === BY_DRIVER ? ' It may have waited for the driver.' : ''
    }`,
    next_step:
      name === 'precharge'
        ? 'Ask what was changed on the link since; then compare the precharge curves of both drives.'
        : 'Ask what was changed since the earlier drives; then compare both starts step by step.',
    cautions: [DC_LINK, OUTSIDE_BOX],
    channels: shownBy(name),
    question: ASK,
  })
}

/** Channels that show a step. */
const shownBy = (name: string): string[] =>
  name === 'precharge'
    ? ['link_voltage', 'contactor_precharge']
    : name === 'ready'
      ? ['drive_ready']
      : name === 'inverter'
        ? ['inverter_state']
        : [`contactor_${name}`]

/** The slowest of what the steps' moments are read from, s. */
function slowestPeriod(review: Review): number {
  const rates = review.channels.flatMap(({ id, rate_hz }) =>
    /^(contactor_|link_voltage$|drive_ready$|bms_state$)/.test(id) && rate_hz ? [1 / rate_hz] : [],
  )
  return rates.length > 0 ? Math.max(...rates) : 0
}
