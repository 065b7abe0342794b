import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { voltages } from '../models/precharge-voltages.ts'
import {
  type IsolationRecord,
  isolationRecord,
  type LowSpell,
  lowSpells,
  readingsByPlug,
} from '../models/start-isolation.ts'

const QUESTION = 'Is the high voltage isolated with the charger connected?'
/** Fewer readings are no state. */
const FEWEST = 3
/** What an isolation monitor may be wrong by. Common practice, no source. */
const MONITOR_ERROR = 0.15

/**
 * Is the high voltage isolated while the plug is in?
 *
 * Model: isolation resistance ÷ highest voltage seen, over readings with the plug in or while charging; three and more
 *   under the limit are a low stretch. Low with the plug in and not without: the charger's side. Low both ways: the pack's
 *   own, told as `isolation-low` and not here.
 * Reads: isolation_resistance [kΩ], pack_voltage or every cell [V], charge_plug, charger current.
 * Gives: `charger-isolation-low` [Ω/V], never a stop: the pack's own isolation is judged without the charger. A note where
 *   readings without the plug are sound (a charger that does not isolate does this by its build), else attention.
 * Biased by: a charger that does not isolate, which shows the mains' own earth; a second monitor in the charger or the
 *   station, which measures against the car's.
 * Blind: a monitor that is switched off while charging (it stands still or at its top).
 * Source: UN R100 5.1.3 and ISO 17409 (from memory): the vehicle's inlet side is isolated as the rest, 100 and 500 Ω/V.
 */
export function chargeIsolation(facts: Facts): Answer {
  const channel = facts.drive.channels.get('isolation_resistance')
  const { highestV } = facts.once(voltages)
  const plugged = channel ? readingsByPlug(facts, channel).plugged : []
  const top = plugged.reduce((most, { value }) => Math.max(most, value), 0)
  const read = plugged.filter(({ value }) => value > 0 && value < top * 0.999)
  if (!channel || !Number.isFinite(highestV) || read.length < FEWEST) {
    const missing = unlogged(facts, ['isolation_resistance', 'pack_voltage'])
    const why =
      missing.length > 0
        ? `not in the log: ${missing.join(', ')}`
        : plugged.length === 0
          ? 'no reading with the plug in is in this log'
          : 'fewer than three readings with the plug in that are no top value'
    return {
      questions: [
        notAssessed(
          'isolation',
          QUESTION,
          missing,
          why,
          'Log a charge with the isolation monitor’s reading, the pack voltage and the plug.',
          'Ω/V',
        ),
      ],
      findings: [],
    }
  }
  const ohmPerVolt = read.map(({ value }) => (1000 * value) / highestV)
  const limit = facts.vehicle.isolation_min_ohm_per_volt ?? facts.limits.isolation.attention!
  const spells = lowSpells(
    read.map(({ atS }) => atS),
    ohmPerVolt,
    limit,
  )
  const record = facts.once(isolationRecord)
  const apart = 'why' in record ? null : record
  // low without the charger as well: that is the pack's, and told so
  const own = apart !== null && apart.low(limit).length > 0
  const worst =
    own || spells.length === 0 ? null : spells.reduce((a, b) => (b.ohmPerVolt < a.ohmPerVolt ? b : a))
  const middle = median(ohmPerVolt)
  const question = assessed(
    'isolation',
    QUESTION,
    worst !== null,
    `${read.length} readings with the plug in, median ${middle.toFixed(0)} Ω/V${
      own ? '; as low without the charger, told as the pack’s own' : ''
    }`,
    { value: limit * (1 - MONITOR_ERROR), unit: 'Ω/V' },
  )
  if (!worst) return { questions: [question], findings: [] }
  const spread = robustSpread(ohmPerVolt)
  return { questions: [question], findings: [lowWithPlug(facts, worst, { spread, highestV, limit, apart })] }
}

interface Read {
  readonly spread: number
  readonly highestV: number
  readonly limit: number
  /** Readings without the plug; null where there are none. */
  readonly apart: IsolationRecord | null
}

function lowWithPlug(facts: Facts, worst: LowSpell, { spread, highestV, limit, apart }: Read): Finding {
  const kiloohm = (worst.ohmPerVolt * highestV) / 1000
  return finding({
    kind: 'charger-isolation-low',
    subject: { type: 'charger' },
    span_s: [worst.startS, worst.endS],
    value: worst.ohmPerVolt,
    unit: 'Ω/V',
    plusMinus: Math.hypot(MONITOR_ERROR * worst.ohmPerVolt, (2.5 * spread) / Math.sqrt(worst.readings)),
    limit: { ...facts.limits.isolation, attention: limit, stop: null },
    bad: 'below',
    severity: apart ? 'note' : 'attention',
    headline: apart
      ? `Isolation is low with the charger connected and not without it (charger side): ${worst.ohmPerVolt.toFixed(0)} Ω/V`
      : `Isolation is low with the charger connected: ${worst.ohmPerVolt.toFixed(0)} Ω/V; without it nothing was read`,
    reason: `${worst.readings} readings with the plug in with a median of ${kiloohm.toFixed(0)} kΩ at ${highestV.toFixed(0)} V.${
      apart ? ` Without the plug the median is ${apart.median.toFixed(0)} Ω/V.` : ''
    } A charger that does not isolate shows the mains’ own earth here; a leak in the inlet, its cable or the charger does too.`,
    next_step: apart
      ? 'Charge at another station with the monitor read. As low there: the inlet, its cable and the charger, isolated and proved dead first, unplugged one by one.'
      : 'Unplug after the charge has ended, wait until the monitor has settled, and read it again: as low then, it is the car’s own.',
    cautions: [
      'Never pull a plug under current; leave station and cable closed.',
      'No insulation tester on connected electronics; do not bridge the monitor.',
      DC_LINK,
      OUTSIDE_BOX,
    ],
    channels: logged(facts, ['isolation_resistance', 'charge_plug', 'pack_voltage']),
    question: QUESTION,
  })
}
