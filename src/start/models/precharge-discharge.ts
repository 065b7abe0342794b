import { LIVE_V } from '../../drive/live-volts.ts'
import { MOVING_KMH } from '../../drive/motion.ts'
import type { Facts } from '../../facts/facts.ts'
import { fitExponential } from '../../math/exponential.ts'
import { median, robustSpread } from '../../math/stats.ts'
import type { Estimate } from './precharge-load.ts'
import { dischargeTimeS } from './precharge-physics.ts'
import { voltages } from './precharge-voltages.ts'
import { sequences, speedChannel } from './start-sequences.ts'
import { contactorTrack, samplesIn } from './start-signals.ts'

/** Fewer readings do not show that it stays up; no source. */
const FEWEST_SETTLED = 4
/** So many readings alike are no chance; no source. */
const FEWEST_FROZEN = 3
/** Fewer readings carry no time constant. */
const FEWEST_FOR_FIT = 5

/** The link voltage while every contactor is open: after an opening, or from the log's start. */
export interface OpenSpell {
  readonly startS: number
  readonly endS: number
  /** False for the spell before the log's first closing. */
  readonly afterOpening: boolean
  readonly packV: number
  readonly firstV: number
  readonly lastV: number
  readonly samples: number
  /** Seconds from opening to 60 V; null where the log cannot say. */
  readonly to60: Estimate | null
  readonly to60Bound: 'exact' | 'at-least'
  /** Time constant of the fall, s; null where it cannot be fitted. */
  readonly tau: Estimate | null
  /** The link stands at pack voltage and does not fall. */
  readonly staysUp: boolean
  /** All readings equal although they moved before: the sender may have gone to sleep. */
  readonly frozen: boolean
}

/** Source: FSAE 2026 T.9.1 and UN R100: up to 60 V DC is low voltage. */
const LOW_VOLTAGE_V = 60
/** Shorter spells say nothing of a link that stays up, s. Common practice, no source. */
const STAY_S = 3
/**
 * Before the first closing a link that stands within `AT_PACK` of pack voltage needs less, s: what is left of an earlier
 * drive would be below it and falling. Common practice, no source.
 */
const STAY_AT_PACK_S = 1.5
const AT_PACK = 0.01

/**
 * What the link does with the contactors open. v(t) = V0 · e^(−t/τ), fitted where at least five samples show a fall
 * of 30 %; seconds to 60 V are read where the log shows them and extrapolated only from such a fit.
 * Left out: moments in which the car rolls (the motor may feed the link).
 */
export function openSpells(facts: Facts): OpenSpell[] {
  const link = facts.drive.channels.get('link_voltage')
  const seen = contactorTrack(facts, 'positive') ?? contactorTrack(facts, 'negative')
  if (!link || !seen) return []
  const all = facts.once(sequences).filter((each) => each.seenBy === 'contactors')
  const spells: OpenSpell[] = []
  const first = all[0]
  if (!first || first.startSeen) {
    const endS = first?.startS ?? facts.drive.durationS
    const spell = spellOf(facts, seen.changes[0]!.atS, Math.max(0, endS - 0.05), false)
    if (spell) spells.push(spell)
  }
  all.forEach((sequence, i) => {
    if (!sequence.opened) return
    const endS = (all[i + 1]?.startS ?? facts.drive.durationS + 0.1) - 0.05
    const spell = spellOf(facts, sequence.opened.atS, endS, true)
    if (spell) spells.push(spell)
  })
  return spells
}

function spellOf(facts: Facts, startS: number, endS: number, afterOpening: boolean): OpenSpell | null {
  const speed = samplesIn(speedChannel(facts), startS, endS)
  const rolling = speed.values.findLastIndex((v) => Math.abs(v) > MOVING_KMH)
  const fromS = rolling < 0 ? startS : speed.timeS[rolling]!
  const link = facts.drive.channels.get('link_voltage')
  const { timeS, values } = samplesIn(link, fromS, endS)
  const volts = facts.once(voltages)
  const packV = volts.packV(startS, endS)
  if (timeS.length < 2 || !(packV > LIVE_V)) return null
  const v = values.map((value) => value / volts.linkRatio)
  const lastV = median(v.slice(-3))
  const firstV = v[0]!
  const elapsed = timeS.at(-1)! - fromS
  const tau = fallOf(timeS, v, fromS)
  const settled = v.filter((_, i) => timeS[i]! > fromS + 0.5)
  const noise = Math.max(0.002 * packV, 3 * robustSpread(settled))
  const half = Math.floor(settled.length / 2)
  const drop = median(settled.slice(0, half)) - median(settled.slice(half))
  const atPack = !afterOpening && Math.abs(median(settled) - packV) < AT_PACK * packV
  const staysUp =
    settled.length >= FEWEST_SETTLED &&
    elapsed >= (atPack ? STAY_AT_PACK_S : STAY_S) &&
    Math.min(...settled) > 0.9 * packV &&
    lastV > 0.95 * packV &&
    drop < Math.min(noise, 0.01 * packV)
  const before = samplesIn(link, fromS - Math.max(3, elapsed), fromS).values
  const frozen =
    values.length > FEWEST_FROZEN &&
    new Set(values.slice(1)).size === 1 &&
    new Set(before.slice(-values.length)).size > 2
  return {
    startS: fromS,
    endS: timeS.at(-1)!,
    afterOpening: afterOpening && rolling < 0,
    packV,
    firstV,
    lastV,
    samples: timeS.length,
    ...secondsTo60(timeS, v, fromS, tau),
    tau,
    staysUp,
    frozen,
  }
}

function fallOf(timeS: Float64Array, v: Float64Array, fromS: number): Estimate | null {
  const top = v[0]!
  const until = v.findIndex((value) => value < 0.04 * top)
  const n = until < 0 ? v.length : until
  if (n < FEWEST_FOR_FIT || v[n - 1]! > 0.7 * top || top < LOW_VOLTAGE_V) return null
  const fit = fitExponential(
    timeS.slice(0, n).map((at) => at - fromS),
    v.slice(0, n),
    0,
  )
  if (!fit || fit.residualSpread > 0.05 * top) return null
  const half = 2 * fit.tauError + 0.02 * fit.tau
  return { value: fit.tau, low: fit.tau - half, high: fit.tau + half }
}

function secondsTo60(
  timeS: Float64Array,
  v: Float64Array,
  fromS: number,
  tau: Estimate | null,
): Pick<OpenSpell, 'to60' | 'to60Bound'> {
  const top = v[0]!
  if (top <= LOW_VOLTAGE_V) return { to60: null, to60Bound: 'exact' }
  const at = v.findIndex((value) => value <= LOW_VOLTAGE_V)
  if (at > 0) {
    const high = timeS[at]! - fromS
    const low = timeS[at - 1]! - fromS
    return { to60: { value: (low + high) / 2, low, high }, to60Bound: 'exact' }
  }
  if (tau) {
    const from = (constant: number): number => dischargeTimeS(top, LOW_VOLTAGE_V, constant)
    return { to60: { value: from(tau.value), low: from(tau.low), high: from(tau.high) }, to60Bound: 'exact' }
  }
  const elapsed = timeS.at(-1)! - fromS
  return { to60: { value: elapsed, low: elapsed, high: Number.POSITIVE_INFINITY }, to60Bound: 'at-least' }
}
