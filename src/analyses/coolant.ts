import { linearAt } from '../drive/on-one-clock.ts'
import { leastSquares } from '../math/least-squares.ts'
import { mean, median } from '../math/stats.ts'
import { DC_LINK, OUTSIDE_BOX } from '../models/cautions.ts'
import { toDrive } from '../models/drive-advice.ts'
import { packCurrent } from '../models/pack-current.ts'
import { type Answer, assessed, channel, type Facts, finding, notAssessed } from './analysis.ts'

const QUESTION = 'Does the coolant carry the heat away?'

/**
 * Flows that a car's pack loop can have, litres a minute, and how much of the electrical power may warm it besides the
 * cells (inverter and motor in the same loop). Common practice, no source. Wide on purpose: only what no healthy loop
 * would show is accused.
 */
const FLOW_L_PER_MIN = { low: 2.5, usual: 8, high: 40 }
const DRIVE_LOSS_SHARE = 0.12
/** J/(l·K) of half water, half glycol: 1.05 kg/l · 3500 J/(kg·K); from memory. */
const HEAT_PER_LITRE = 3675

/**
 * Does the coolant's difference between in and out fit the heat put into it?
 *
 * Model: ΔT = heat / (flow · c), heat between the cells' I²R alone and that plus a share of the electrical power
 * (inverter and motor may share the loop); averaged over the loaded half of the drive. Flow is not logged, so only a
 * difference outside what 2.5 to 40 l/min give is accused.
 * Reads: coolant_in, coolant_out [°C], pack_current [A], pack_voltage [V].
 * Gives: `coolant-flow-doubtful` [K seen; limit holds K expected at 8 l/min].
 * Blind: a flow wrong by less than some four times; a loop whose heat is taken out before the outlet sensor.
 */
export function coolant(facts: Facts): Answer {
  const inlet = channel(facts, 'coolant_in')
  const outlet = channel(facts, 'coolant_out')
  const current = facts.once(packCurrent)
  const voltage = channel(facts, 'pack_voltage')
  const missing = ['coolant_in', 'coolant_out', 'pack_current', 'pack_voltage'].filter(
    (id) => !channel(facts, id),
  )
  const not = (why: string, to: string | null): Answer => ({
    questions: [notAssessed('heat', QUESTION, missing, why, to, 'K')],
    findings: [],
  })
  if (!inlet || !outlet || !current || !voltage)
    return not(
      'the coolant\u2019s temperatures and the heat put in are not all logged',
      'Log coolant in and out with pack current and voltage.',
    )

  const stepS = Math.max(2, facts.drive.durationS / 2000)
  const timeS = Float64Array.from(
    { length: Math.floor(facts.drive.durationS / stepS) },
    (_, i) => (i + 0.5) * stepS,
  )
  const amperes = linearAt({ ...voltage, timeS: current.timeS, values: current.amperes }, timeS, 10)
  const volts = linearAt(voltage, timeS, 10)
  const low = linearAt(inlet, timeS, 60)
  const high = linearAt(outlet, timeS, 60)
  const kept: number[] = []
  for (let i = 0; i < timeS.length; i++)
    if (Number.isFinite(amperes[i]! + volts[i]! + low[i]! + high[i]!)) kept.push(i)
  if (kept.length < 30) return not('current, voltage and coolant overlap for too short a time', null)
  const line = leastSquares(
    [kept.map(() => 1), kept.map((i) => -amperes[i]!), kept.map((i) => timeS[i]!)],
    kept.map((i) => volts[i]!),
  )
  const ohm = line?.coefficients[1] ?? Number.NaN
  if (!(ohm > 0)) return not('the drive was too even to tell the pack\u2019s resistance', null)

  const cellHeatW = mean(kept.map((i) => amperes[i]! ** 2 * ohm))
  const allHeatW = cellHeatW + DRIVE_LOSS_SHARE * mean(kept.map((i) => Math.abs(amperes[i]! * volts[i]!)))
  const seen = mean(kept.map((i) => high[i]! - low[i]!))
  const warmest = (heatW: number, litresPerMinute: number): number =>
    heatW / ((litresPerMinute / 60) * HEAT_PER_LITRE)
  const least = warmest(cellHeatW, FLOW_L_PER_MIN.high)
  const most = warmest(allHeatW, FLOW_L_PER_MIN.low)
  const usual = Math.sqrt(warmest(cellHeatW, FLOW_L_PER_MIN.usual) * warmest(allHeatW, FLOW_L_PER_MIN.usual))
  // Two sensors, each a degree off at the worst, learned where the pack rested: the start of the log.
  const rest = median(kept.slice(0, Math.max(5, kept.length >> 5)).map((i) => high[i]! - low[i]!))
  const offset = Math.abs(rest) < 2 ? rest : 0
  const step = Math.max(inlet.step, outlet.step, 0.1)
  const error = 1.96 * Math.hypot(step / 2, 0.3)
  const figure = seen - offset
  const tooWarm = figure - error > most
  const tooEven = usual > 3 * error && figure + error < least
  const why = `Cells put in ${cellHeatW.toFixed(0)} W, with the drive's losses at most ${allHeatW.toFixed(0)} W; in and out differed by ${figure.toFixed(1)} K on average.`
  if (!tooWarm && !tooEven && usual <= 3 * error)
    return not(
      `${why} That is too little heat to tell the flow.`,
      toDrive(
        'drive so that the pack stays loaded for ten minutes',
        'when they are over, or when any limit comes near',
      ),
    )
  const question = assessed('heat', QUESTION, tooWarm || tooEven, why, { value: most + error, unit: 'K' })
  if (!tooWarm && !tooEven) return { questions: [question], findings: [] }
  return {
    questions: [question],
    findings: [
      finding({
        kind: 'coolant-flow-doubtful',
        subject: { type: 'coolant' },
        span_s: [timeS[kept[0]!]!, timeS[kept[kept.length - 1]!]!],
        value: figure,
        unit: 'K',
        plusMinus: error,
        limit: {
          attention: usual,
          stop: null,
          unit: 'K',
          source: 'heat balance at 8 l/min; common practice, no source',
        },
        severity: 'attention',
        headline: tooWarm
          ? `The coolant warmed by ${figure.toFixed(1)} K on its way; about ${usual.toFixed(1)} K was expected.`
          : `The coolant warmed by ${figure.toFixed(1)} K only; about ${usual.toFixed(1)} K was expected.`,
        reason: `${why} ${tooWarm ? 'Even 2.5 l/min would warm less: little flow, or air in the loop.' : 'Even 40 l/min would warm more: coolant that does not pass the plates, or sensors that are not in the flow.'}`,
        next_step:
          'Look at level, pump and hoses with the car isolated; then watch the return at the filler while the pump runs.',
        cautions: [OUTSIDE_BOX, DC_LINK],
        channels: ['coolant_in', 'coolant_out', 'pack_current'],
      }),
    ],
  }
}
