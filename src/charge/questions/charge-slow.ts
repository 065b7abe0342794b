import type { Finding, Holder } from '../../../shared/review.ts'
import { holderWord, lengthText } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { SLOW_SHARE } from '../models/session-holders.ts'
import { type Session, sessions } from '../models/sessions.ts'

const QUESTION = 'Was the charge as fast as the battery unit asked?'
/** Under this share of the time nothing is noted, %: a charger that follows a step of the request. No source. */
const NOTED_PERCENT = 2
/** A charger this warm is near where chargers give less, °C. Common practice, no source. */
const HOT_C = 65

/**
 * Was the charge slower than the battery unit asked, and who held it back?
 *
 * Model:  share of the time with current in which I < 0.93 · request while the voltage stands below what was asked.
 *   Held back by the cable or the pilot where the mains current stands at what they allow (IEC 61851-1), else by the
 *   charger. Where the request itself was taken back: highest cell, warmest or coldest sensor near its limit, in this
 *   order, else the battery unit.
 * Reads: charge_current_request, charger_current or pack_current [A], charge_voltage_request, charger_voltage,
 *   pack_voltage, mains_voltage [V], mains_current [A], pilot_duty [%], proximity_resistance [Ω], cells, temperatures.
 * Gives: `charge-slow` [%]; `charge_sessions[]` with energy, phases, efficiency, stops, the cells at its end.
 * Biased by: two current readings that differ (in the interval); a mains current of one phase of three.
 * Blind: without a current request; a battery unit that asks for less than it could.
 * Source: 93 %: the project's contract; pilot and cable: IEC 61851-1 (from memory); the rest common practice, no source.
 */
export function chargeSlow(facts: Facts): Answer {
  const all = facts.once(sessions)
  const asked = all.filter((each) => each.slow !== null)
  const sections = all.length > 0 ? { charge_sessions: all.map(({ row }) => row) } : {}
  if (asked.length === 0)
    return {
      questions: [
        notAssessed(
          'start',
          QUESTION,
          unlogged(facts, ['charge_current_request', 'charger_current']),
          all.length === 0
            ? 'no charge with current is in this log'
            : 'what the battery unit asked is not logged',
          'Log a charge with current request, charger current and pack voltage.',
          '%',
        ),
      ],
      findings: [],
      sections,
    }
  const worst = asked.reduce((a, b) => (b.slow!.percent > a.slow!.percent ? b : a))
  const { percent } = worst.slow!
  const limit = facts.limits.chargeSlow
  return {
    questions: [
      assessed(
        'start',
        QUESTION,
        percent > NOTED_PERCENT,
        `${asked.length} ${asked.length === 1 ? 'charge' : 'charges'} with a current request; ${heldWords(worst)}`,
        {
          value: (worst.slow!.high - worst.slow!.low) / 2 + limit.attention!,
          unit: '%',
          limit: limit.attention,
          measured: percent,
        },
      ),
    ],
    findings: percent > NOTED_PERCENT ? [slowFinding(facts, worst)] : [],
    sections,
  }
}

/** "as asked 1 h 20 min, the charger 12 min" */
function heldWords({ row }: Session): string {
  return row.held_s
    .filter(({ time_s }) => time_s > 30)
    .map(({ by, time_s }) => `${holderWord(by)} ${lengthText(time_s)}`)
    .join(', ')
}

function slowFinding(facts: Facts, session: Session): Finding {
  const { series, by, slow } = session
  const under = Array.from(by, (who, i) => slowAt(session, i) && who !== 'voltage')
  const times = new Map<Holder, number>()
  by.forEach((who, i) => {
    if (under[i]) times.set(who, (times.get(who) ?? 0) + series.stepS)
  })
  const [first] = [...times].sort((a, b) => b[1] - a[1])
  const who = first?.[0] ?? 'charger'
  const pick = (values: Float64Array): number =>
    median(values.filter((value, i) => under[i] && Number.isFinite(value)))
  const given = pick(series.delivered)
  const wanted = pick(series.requestA)
  const hotC = pick(series.chargerC)
  const from = under.findIndex((slowHere, i) => slowHere && by[i] === who)
  const to = under.lastIndexOf(true)
  const limits = [...times]
    .filter(([each, s]) => each === who || s > 30)
    .map(([each, s]) => `${holderWord(each)} ${lengthText(s)}`)
    .join(', ')
  return finding({
    kind: 'charge-slow',
    subject: { type: 'charger' },
    span_s: [series.timeS[from]!, series.timeS[to]!],
    value: slow!.percent,
    unit: '%',
    low: slow!.low,
    high: slow!.high,
    limit: facts.limits.chargeSlow,
    headline: `The charge was slower than asked for ${slow!.percent.toFixed(0)} % of the time: ${HELD_BACK[who] ?? `held back by ${holderWord(who)}`}`,
    reason: `The battery unit asked for ${wanted.toFixed(1)} A and ${given.toFixed(1)} A came (middle of that time). Under ${(100 * SLOW_SHARE).toFixed(0)} % of what was asked stood: ${limits}.${
      who === 'charger' && hotC > HOT_C ? ` The charger read ${hotC.toFixed(0)} °C meanwhile.` : ''
    }`,
    next_step: NEXT[who] ?? NEXT.charger!,
    cautions: who === 'charger' ? [] : ['Never a cable beyond its rating; leave station and cable closed.'],
    channels: logged(facts, [
      'charge_current_request',
      series.deliveredFrom,
      'mains_current',
      'pilot_duty',
      'charger_temperature',
    ]),
    question: QUESTION,
  })
}

const slowAt = ({ series }: Session, i: number): boolean =>
  series.delivered[i]! >= 1 && series.delivered[i]! + series.unseenA < SLOW_SHARE * series.requestA[i]!

const HELD_BACK: Partial<Record<Holder, string>> = {
  cable: 'the cable allows no more',
  pilot: 'the station offers no more',
}

const NEXT: Partial<Record<Holder, string>> = {
  charger:
    'Read the charger’s own temperature and limits during a charge; look at its coolant, its fan and its mains fuse with the plug out.',
  cable:
    'Look at the cable’s marking: charge with one of a higher rating, if station and car are built for it.',
  pilot: 'Look at what the station is set to, and whether it shares its supply; try another station.',
}
