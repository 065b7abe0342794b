import type { Facts } from '../../facts/facts.ts'
import { type OpenSpell, openSpells } from './precharge-discharge.ts'
import { prechargeRuns } from './precharge-runs.ts'
import { voltages } from './precharge-voltages.ts'
import { firstMain } from './start-sequences.ts'
import { samplesIn, startSignals, stretches, switchTrack, valueAt } from './start-signals.ts'

/** A fall by less would not be seen; no source. */
const EXPECTED_FALL = 0.02

/** A sign that a contactor conducts although it should not. */
export interface WeldSign {
  /** Which contactor; null where the sign does not tell. */
  readonly name: 'positive' | 'negative' | null
  readonly sign: 'stays-up' | 'up-before-closing' | 'feedback-stays'
  readonly startS: number
  readonly endS: number
  readonly linkV: number
  readonly packV: number
  /** Something else could explain it: charger plugged in, all readings equal. */
  readonly doubt: string | null
  /** How far the doubt goes. */
  readonly sureness: 'sure' | 'likely' | 'doubtful'
}

/** The link counts as up at this share of pack voltage. Common practice, no source. */
const UP = 0.9
/** A feedback this long after its command is no release time, s. Common practice, no source. */
const RELEASE_S = 0.5

/**
 * Signs of a welded contactor. One welded pole alone shows only while the other is closed, so their absence says
 * nothing of it.
 *
 *   stays-up            all contactors open, link at pack voltage, no fall in 3 s or more
 *   up-before-closing   the first main contactor closes and the link is up before precharge: the second conducts
 *   feedback-stays      command off, feedback on
 */
export function weldSigns(facts: Facts): WeldSign[] {
  return [...staysUp(facts), ...upBeforeClosing(facts), ...feedbackStays(facts)].sort(
    (a, b) => a.startS - b.startS,
  )
}

function staysUp(facts: Facts): WeldSign[] {
  const { plug } = facts.once(startSignals)
  return facts
    .once(openSpells)
    .filter((spell) => spell.staysUp)
    .map((spell) => {
      const doubt = doubtOf(facts, spell, valueAt(plug, spell.endS) === 1)
      const everDown = linkEverDown(facts, spell.packV)
      return {
        name: null,
        sign: 'stays-up' as const,
        startS: spell.startS,
        endS: spell.endS,
        linkV: spell.lastV,
        packV: spell.packV,
        doubt:
          doubt ??
          (everDown
            ? null
            : 'the link is never seen down in this log: the reading may be taken on the battery’s side'),
        sureness: doubt ? ('doubtful' as const) : everDown ? ('sure' as const) : ('likely' as const),
      }
    })
}

/** Was the link ever under half of pack voltage? If never, it may not be the link that is read. */
function linkEverDown(facts: Facts, packV: number): boolean {
  return facts.drive.channels.get('link_voltage')?.values.some((v) => v < 0.5 * packV) ?? false
}

function doubtOf(facts: Facts, spell: OpenSpell, plugged: boolean): string | null {
  if (spell.frozen) return 'all link readings are equal: the sender may have gone to sleep'
  if (plugged) return 'the charge plug is in: the charger may feed the link'
  const { bleed_ohm, link_farad } = facts.vehicle.precharge ?? {}
  if (bleed_ohm && link_farad) {
    const fall = 1 - Math.exp(-(spell.endS - spell.startS) / (bleed_ohm * link_farad))
    if (fall < EXPECTED_FALL)
      return 'the bleed resistor of the vehicle file is so large that no fall was to be expected yet'
  }
  return null
}

function upBeforeClosing(facts: Facts): WeldSign[] {
  const signals = facts.once(startSignals)
  const early = firstMain(facts)
  const first = signals[early]
  const link = facts.drive.channels.get('link_voltage')
  if (!first || !link || !signals.precharge) return []
  const volts = facts.once(voltages)
  return facts.once(prechargeRuns).flatMap((run) => {
    const closed = first.changes.find(
      (c, i) => i > 0 && c.value === 1 && c.atS >= run.sequence.startS - 0.01 && c.earliestS < run.startS,
    )
    if (!closed) return []
    const before = samplesIn(link, closed.earliestS - 2, closed.earliestS).values
    const { timeS, values } = samplesIn(link, closed.earliestS, run.startS)
    const up = values.filter((v) => v / volts.linkRatio > UP * run.packV)
    const wasDown = before.length > 0 && Math.max(...before.slice(-3)) / volts.linkRatio < 0.5 * run.packV
    if (up.length === 0 || !wasDown) return []
    return [
      {
        name: early === 'negative' ? ('positive' as const) : ('negative' as const),
        sign: 'up-before-closing' as const,
        startS: closed.atS,
        endS: Math.max(run.startS, timeS.at(-1) ?? run.startS),
        linkV: up.at(-1)! / volts.linkRatio,
        packV: run.packV,
        doubt: up.length < 2 ? 'only one reading shows it' : null,
        sureness: up.length < 2 ? ('likely' as const) : ('sure' as const),
      },
    ]
  })
}

function feedbackStays(facts: Facts): WeldSign[] {
  const link = facts.drive.channels.get('link_voltage')
  return (['positive', 'negative'] as const).flatMap((name) => {
    const command = switchTrack(facts, `contactor_${name}_command`)
    const feedback = switchTrack(facts, `contactor_${name}_feedback`)
    if (!command || !feedback) return []
    return stretches(command, (v) => v === 0, facts.drive.durationS)
      .filter((off) => off.endS - off.startS > RELEASE_S && Number.isFinite(off.from.earliestS))
      .flatMap((off) => {
        const release = feedback.changes.find((c) => c.value === 0 && c.atS > off.from.earliestS)
        const until = Math.min(release?.earliestS ?? off.endS, off.endS)
        if (valueAt(feedback, off.startS) !== 1 || until - off.startS < RELEASE_S) return []
        const linkV = samplesIn(link, off.startS, until).values.at(-1) ?? Number.NaN
        return [
          {
            name,
            sign: 'feedback-stays' as const,
            startS: off.startS,
            endS: until,
            linkV,
            packV: facts.once(voltages).packV(off.startS, until),
            doubt: 'the feedback contact itself may stick',
            sureness: 'likely' as const,
          },
        ]
      })
  })
}
