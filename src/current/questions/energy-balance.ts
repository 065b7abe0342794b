import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Finding } from '../../../shared/review.ts'
import { packCurrent } from '../../car/pack-current.ts'
import { type PackPower, packPower } from '../../car/pack-power.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { spansWhere } from '../../math/spans.ts'
import { splitIntegral } from '../../math/split-integral.ts'
import { median } from '../../math/stats.ts'
import { indexAt, linearAt } from '../../samples/on-one-clock.ts'

/** More than a sensor's zero moves; no source. */
const REGENERATES_A = 3
/** Nothing gives back more than it held. */
const ALL_PERCENT = 100

/** A current that reads this much too high is worth finding. Common practice, no source. */
const TOO_HIGH_PERCENT = 20
const QUESTION = 'Does the energy put back fit what the slowing car had to give?'
/** Passengers and tools that the vehicle file's mass may leave out. Common practice, no source. */
const LOAD_KG = 150
/** Slower braking may be a hill's energy as well; stops harder than this are mostly the car's own. */
const LEAST_SLOWING = 1
/** Kinetic energy, Wh, below which a stop says little. */
const LEAST_WH = 3
const LEAST_STOPS = 3

/**
 * Does more energy come back than the car's motion held? Then a sign or a scale is wrong.
 *
 * Model:  per stretch of charging power with a mean slowing over 1 m/s²: E_back / (½ m (v₁² − v₂²)), median over the
 *         stretches; no car gets back more than all of it on the level.
 * Reads:  pack current and voltage, speed [km/h], mass_kg of the vehicle file (150 kg of load allowed for).
 * Gives:  a note of kind `energy-implausible`, share in %; and the question's answer.
 * Biased by: slopes and headwind, which take out or add energy that the speed does not show; the median over stops.
 * Blind:  to a scale error that still leaves under 100 %; to steep descents (a median over many stops carries few).
 * Source: kinetic energy ½ m v² (1500 kg from 100 km/h hold 160.751 Wh).
 */
export function energyBalance(facts: Facts): Answer {
  const power = facts.once(packPower)
  const current = facts.once(packCurrent)
  const speed = channel(facts, 'speed')
  const { mass_kg: mass, mass_laden_kg: laden } = facts.vehicle.car ?? {}
  const missing: ChannelId[] = [
    ...(power ? [] : (['pack_current', 'pack_voltage'] as const)),
    ...(speed ? [] : (['speed'] as const)),
  ]
  if (!power || !current || !speed || !(mass ?? laden)) {
    const why =
      missing.length > 0 ? `not in the log: ${missing.join(', ')}` : 'the vehicle file gives no mass'
    const toAssess = missing.length > 0 ? `Log ${missing.join(', ')}.` : 'Give mass_kg in the vehicle file.'
    return { questions: [notAssessed('energy', QUESTION, missing, why, toAssess, '%')], findings: [] }
  }
  const kilograms = laden ?? mass! + LOAD_KG
  const shares = sharesPutBack(power, speed, kilograms)
  if (shares.length < LEAST_STOPS) {
    const why = `only ${shares.length} firm decelerations with regeneration`
    return {
      questions: [
        notAssessed(
          'energy',
          QUESTION,
          [],
          why,
          toDrive('a few firm decelerations under regeneration', 'after five of them'),
          '%',
        ),
      ],
      findings: [],
    }
  }
  const share = median(shares)
  const plusMinus = share * Math.hypot(current.gainPercent / 100, power.voltsPercent / 100, 0.05)
  const found = share - plusMinus > ALL_PERCENT
  const why = `Median ${share.toFixed(0)} % of the car’s kinetic energy over ${shares.length} firm decelerations, at ${kilograms} kg.`
  return {
    questions: [
      // a current that reads high enough for the share to pass 100 % is the smallest error that shows
      assessed('energy', QUESTION, found, why, {
        value: share > 0 ? 100 * ((100 + plusMinus) / share - 1) : null,
        unit: '% too much current',
        limit: TOO_HIGH_PERCENT,
        toAssess: toDrive(
          'a few firm decelerations under regeneration alone, from 80 km/h',
          'after five of them',
        ),
      }),
    ],
    findings: found ? [tooMuch(facts, share, plusMinus, why)] : [],
  }
}

/** What the battery got of the car's kinetic energy, %, for each firm deceleration under regeneration. */
function sharesPutBack(power: PackPower, speed: Channel, kilograms: number): number[] {
  return spansWhere(power.timeS, (i) => power.amperes[i]! < -REGENERATES_A).flatMap(([from, to]) => {
    const [before, after] = [...linearAt(speed, [from, to], 2)].map((kmh) => Math.abs(kmh) / 3.6) as [
      number,
      number,
    ]
    const kineticWh = (0.5 * kilograms * (before ** 2 - after ** 2)) / 3600
    if (!(kineticWh > LEAST_WH) || (before - after) / (to - from) < LEAST_SLOWING) return []
    const [first, last] = [indexAt(power.timeS, from), indexAt(power.timeS, to)]
    const inside = (all: Float64Array): Float64Array => all.subarray(first, last + 1)
    return [(100 * splitIntegral(inside(power.timeS), inside(power.watts), 5).below) / 3600 / kineticWh]
  })
}

function tooMuch(facts: Facts, share: number, plusMinus: number, why: string): Finding {
  return finding({
    kind: 'energy-implausible',
    subject: { type: 'channel', name: 'pack_current' },
    span_s: [0, facts.drive.durationS],
    value: share,
    unit: '%',
    plusMinus,
    limit: { attention: ALL_PERCENT, stop: null, unit: '%', source: 'kinetic energy of the car' },
    severity: 'note',
    headline: 'More energy is put back than the slowing car held.',
    reason: `${why} The sign or scale of current, voltage or speed, or the mass given, is wrong; or the road fell steeply.`,
    next_step: 'Compare the current reading with a clamp meter, and the speed with a known distance.',
    channels: ['pack_current', 'pack_voltage', 'speed'],
  })
}
