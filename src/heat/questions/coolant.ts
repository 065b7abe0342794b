import type { Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { mean } from '../../math/stats.ts'
import { coolantBounds, FLOW_L_PER_MIN } from '../models/coolant-bounds.ts'
import { type CoolantChange, coolantConstancy } from '../models/coolant-change.ts'
import { type CoolantFlow, coolantFlow } from '../models/coolant-flow.ts'
import { type CoolantSeries, coolantSeries } from '../models/coolant-series.ts'

/** With so much of the heat from the drive's parts the modules do not bound the flow; no source. */
const DRIVE_SHARE = 0.3

const FLOW = 'Does the coolant carry the heat away?'
const CHANGE = 'Does the coolant answer the heat alike all through the drive?'
const EXPECTED = 'heat balance at 8 l/min; common practice, no source'
/** An interval that reaches up here says nothing of the flow, l/min. */
const UNTOLD_L_PER_MIN = 150

/**
 * Does the coolant's difference between in and out fit the heat put into it, and does it all through the drive?
 *
 * Models: `coolantFlow` (a flow with its interval, where modules' temperatures and the pack's size are known),
 * `coolantBounds` (else: what no flow from 2.5 to 40 l/min gives), `coolantConstancy` (a change part way).
 * Reads: coolant_in, coolant_out, module temperatures [°C], pack_current [A], pack_voltage [V], coolant_pump [0/1:
 * moments without it are left out].
 * Gives: `coolant-flow-doubtful` [K seen; limit holds K expected], once a drive.
 * Blind: a loop whose heat is taken out before the outlet sensor; a pump that never turned beside sensors that stand in
 * still coolant, unless the cells' heat is large; what each model says.
 * Biased by: two sensors that differ (their difference is taken out where still coolant shows it), heat shed on the way.
 * Source: first law, Q = ṁ · c · ΔT; limits: common practice, no source.
 */
export function coolant(facts: Facts): Answer {
  const series = facts.once(coolantSeries)
  if (!series) return toLog(facts)
  const constancy = coolantConstancy(series)
  const flow = facts.once(coolantFlow)
  const first = flow ? byFlow(series, flow) : byBounds(series)
  const change: Question =
    constancy.smallestC === null && !constancy.change
      ? notAssessed(
          'heat',
          CHANGE,
          [],
          'in the first half of the drive the coolant warmed too little to say what the second half should show',
          LONGER,
          'K',
        )
      : assessed(
          'heat',
          CHANGE,
          constancy.change !== null,
          'The second part of the drive against the first, at every moment tried.',
          {
            value: constancy.smallestC,
            unit: 'K',
          },
        )
  // one finding a drive: a change says more than its mean
  const findings = constancy.change ? [changed(series, constancy.change)] : first.findings
  const question =
    constancy.change && first.question.state === 'found'
      ? { ...first.question, why: `${first.question.why} It changed part way.` }
      : first.question
  return { questions: [question, change], findings }
}

const LONGER = toDrive(
  'drive so that the pack stays loaded for ten minutes',
  'when they are over, or when any limit comes near',
)

function toLog(facts: Facts): Answer {
  const missing = unlogged(facts, ['coolant_in', 'coolant_out', 'pack_current', 'pack_voltage'])
  const why =
    missing.length > 0
      ? 'the coolant\u2019s temperatures and the heat put in are not all logged'
      : 'current, voltage and coolant overlap for too short a time, or the drive was too even to tell the pack\u2019s resistance'
  const to = missing.length > 0 ? 'Log coolant in and out with pack current and voltage.' : null
  return {
    questions: [FLOW, CHANGE].map((question) => notAssessed('heat', question, missing, why, to, 'K')),
    findings: [],
  }
}

/** No minus before a nought. */
const kelvin = (value: number): string => (Math.abs(value) < 0.05 ? 0 : value).toFixed(1)

interface Judged {
  readonly question: Question
  readonly findings: Answer['findings']
}

/** Litres to two figures, so that no more is said than is known. */
const litres = (value: number): string => String(Number(value.toPrecision(2)))

function byFlow(series: CoolantSeries, flow: CoolantFlow): Judged {
  const { low, middle, high, lowest } = flow.litres
  const little = high < FLOW_L_PER_MIN.low
  const none = lowest > FLOW_L_PER_MIN.high && series.offsetC < 0.5 * flow.warmedAt(FLOW_L_PER_MIN.high)
  const expectedC = flow.warmedAt(FLOW_L_PER_MIN.usual)
  const [least, most] = flow.cellHeatW
  const given =
    most > 0
      ? `gave the coolant ${least.toFixed(0)} to ${most.toFixed(0)} W`
      : `took ${(-most).toFixed(0)} to ${(-least).toFixed(0)} W from it`
  const heat = `The cells made ${mean(series.cellW).toFixed(0)} W on average and ${given}. In and out differed by ${flow.warmedC.toFixed(1)} ± ${series.offsetC.toFixed(1)} K.`
  const interval = `That is ${litres(middle)} l/min, 95 %: ${litres(low)} to ${litres(high)}.`
  // a flow at the limit would be told from this width upwards; cells alone cannot warm it past their own temperature
  const wouldShowC = Math.max((flow.warmedC * high) / FLOW_L_PER_MIN.low, 2 * series.offsetC)
  const roomC =
    flow.driveShare > DRIVE_SHARE ? Number.POSITIVE_INFINITY : Math.max(mean(series.aboveC!), flow.warmedC)
  if (!little && !none && (high > UNTOLD_L_PER_MIN || wouldShowC > roomC))
    return {
      question: notAssessed(
        'heat',
        FLOW,
        [],
        `${heat} That is too little heat to tell the flow (${litres(low)} to ${litres(high)} l/min).`,
        LONGER,
        'K',
      ),
      findings: [],
    }
  const question = assessed('heat', FLOW, little || none, `${heat} ${interval}`, {
    value: wouldShowC,
    unit: 'K',
  })
  if (!little && !none) return { question, findings: [] }
  return {
    question,
    findings: [
      doubtful({
        span: wholeOf(series),
        seenC: flow.warmedC,
        plusMinusC: series.offsetC,
        expectedC,
        source: EXPECTED,
        headline: `The coolant warmed by ${flow.warmedC.toFixed(1)} K on its way; about ${expectedC.toFixed(1)} K was expected.`,
        reason: `${heat} ${interval} ${little ? LITTLE : NONE}`,
      }),
    ],
  }
}

const LITTLE =
  'A car\u2019s pack loop has 2.5 l/min or more: little flow, a blocked or kinked hose, or air in the loop.'
const NONE =
  'Even 40 l/min would warm more: coolant that does not pass the plates, or sensors that are not in the flow.'

function byBounds(series: CoolantSeries): Judged {
  const { seenC, errorC, cellW, mostW, usualC, mostC, verdict } = coolantBounds(series)
  const why = `Cells put in ${cellW.toFixed(0)} W, with the drive's losses at most ${mostW.toFixed(0)} W; in and out differed by ${seenC.toFixed(1)} K on average.`
  if (verdict === 'too-little-heat')
    return {
      question: notAssessed(
        'heat',
        FLOW,
        [],
        `${why} That is too little heat to tell the flow.`,
        LONGER,
        'K',
      ),
      findings: [],
    }
  const found = verdict !== 'nothing'
  const question = assessed('heat', FLOW, found, why, { value: mostC + errorC, unit: 'K' })
  if (!found) return { question, findings: [] }
  const warm = verdict === 'too-warm'
  return {
    question,
    findings: [
      doubtful({
        span: wholeOf(series),
        seenC,
        plusMinusC: errorC,
        expectedC: usualC,
        source: EXPECTED,
        headline: `The coolant warmed by ${seenC.toFixed(1)} K ${warm ? 'on its way' : 'only'}; about ${usualC.toFixed(1)} K was expected.`,
        reason: `${why} ${warm ? `Even 2.5 l/min would warm less. ${LITTLE}` : NONE}`,
      }),
    ],
  }
}

function changed(series: CoolantSeries, change: CoolantChange): Answer['findings'][number] {
  const { atS, seenC, seenLowC, seenHighC, expectedC, turn } = change
  const why =
    turn === 'less-flow'
      ? 'Less flow from then on: a pump that stopped or slowed, a hose that closed, air that reached the plates. A pump slowed on purpose would look alike.'
      : 'Coolant that stands still beside its sensors: a pump that stopped, or a loop that was shut.'
  return doubtful({
    span: [atS, series.timeS[series.timeS.length - 1]!],
    seenC,
    plusMinusC: Math.max(seenHighC - seenC, seenC - seenLowC),
    expectedC,
    source: 'the same drive before that moment',
    headline: `From ${atS.toFixed(0)} s on the coolant warmed by ${kelvin(seenC)} K; by what it did before, ${expectedC.toFixed(1)} K was expected.`,
    reason: `The same heat of cells and drive would have warmed the coolant by ${expectedC.toFixed(1)} K as before; it warmed by ${kelvin(seenC)} K (95 %: ${kelvin(seenLowC)} to ${kelvin(seenHighC)} K). ${why}${series.pumpLogged ? ' The log has the pump running all that time.' : ''}`,
  })
}

const wholeOf = ({ timeS }: CoolantSeries): Span => [timeS[0]!, timeS[timeS.length - 1]!]

function doubtful(said: {
  span: Span
  seenC: number
  plusMinusC: number
  expectedC: number
  source: string
  headline: string
  reason: string
}): Answer['findings'][number] {
  return finding({
    kind: 'coolant-flow-doubtful',
    subject: { type: 'coolant' },
    span_s: said.span,
    value: said.seenC,
    unit: 'K',
    plusMinus: said.plusMinusC,
    limit: { attention: said.expectedC, stop: null, unit: 'K', source: said.source },
    severity: 'attention',
    headline: said.headline,
    reason: said.reason,
    next_step:
      'Look at level, pump and hoses with the car isolated; then watch the return at the filler while the pump runs.',
    cautions: [OUTSIDE_BOX, DC_LINK],
    channels: ['coolant_in', 'coolant_out', 'pack_current'],
  })
}
