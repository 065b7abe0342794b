import { ASKED_BAR, ASKED_PERCENT } from '../../car/brake-press.ts'
import type { Facts } from '../../facts/facts.ts'
import { overlap } from '../../math/spans.ts'
import { quantile } from '../../math/stats.ts'
import { chargingShown } from './charger-connected.ts'
import { samplesIn, startSignals, stretches, switchTrack, trackOf, valueAt } from './start-signals.ts'

/** When and how somebody first asked for a start in a span: by the pedal, the selector, a command. */
export interface Asked {
  readonly atS: number
  readonly by: string
}

/**
 * Did the driver ask for a start in [fromS, toS]? The brake pressed, or the selector moved (the contract); a key alone
 * asks nothing. Reads brake_switch (its changes, where nothing proves its values), brake pressure and travel, selector.
 */
export function driverAsked(facts: Facts, fromS: number, toS: number): Asked | null {
  const { brakeSwitch, selector } = facts.once(startSignals)
  const found: Asked[] = []
  const add = (atS: number | undefined, by: string): void => {
    if (atS !== undefined && atS <= toS) found.push({ atS: Math.max(atS, fromS), by })
  }
  const pressed = 'the brake was pressed'
  add(
    stretches(brakeSwitch, (value) => value === 1, facts.drive.durationS).find(
      ({ startS, endS }) => startS <= toS && endS > fromS,
    )?.startS,
    pressed,
  )
  const unproved = brakeSwitch ? null : trackOf(facts.drive.channels.get('brake_switch'))
  add(unproved?.changes.find(({ atS }, i) => i > 0 && atS > fromS)?.atS, 'the brake switch changed')
  for (const id of [
    'brake_pressure',
    'brake_pressure_front',
    'brake_pressure_rear',
    'brake_travel',
  ] as const) {
    const channel = facts.drive.channels.get(id)
    if (!channel) continue
    const bar = id === 'brake_travel' ? ASKED_PERCENT : ASKED_BAR
    const zero = Math.min(quantile(channel.values, 0.1), bar)
    const { timeS, values } = samplesIn(channel, fromS, toS)
    const at = values.findIndex((value, i) => value > zero + bar && (values[i + 1] ?? value) > zero + bar)
    add(timeS[at], pressed)
  }
  add(selector?.changes.find(({ atS }, i) => i > 0 && atS > fromS)?.atS, 'the selector was moved')
  return found.sort((a, b) => a.atS - b.atS)[0] ?? null
}

/** Did a control unit ask for a contactor in [fromS, toS]? */
export function unitAsked(facts: Facts, fromS: number, toS: number): Asked | null {
  for (const name of ['precharge', 'negative', 'positive'] as const) {
    const command = switchTrack(facts, `contactor_${name}_command`)
    const asked = stretches(command, (value) => value === 1, facts.drive.durationS).find(
      ({ startS, endS }) => startS <= toS && endS > fromS,
    )
    if (asked) return { atS: Math.max(asked.startS, fromS), by: `the ${name} contactor was commanded` }
  }
  return null
}

/** Is a charger seen in [fromS, toS]: the plug in throughout, a state that means charging, or the charger’s current? */
export function chargerSeen(facts: Facts, fromS: number, toS: number): boolean {
  const { plug, bms } = facts.once(startSignals)
  if (plug && valueAt(plug, Math.max(fromS, plug.changes[0]!.atS)) === 1) {
    const out = plug.changes.some(
      ({ atS, value }) => value === 0 && atS > fromS && atS < toS - PLUG_OUT_LATE_S,
    )
    if (!out) return true
  }
  const charging = (code: number): boolean => bms?.meaning(code) === 'charging'
  if (
    bms &&
    stretches(bms.track, charging, facts.drive.durationS).some((h) => h.startS < toS && h.endS > fromS)
  )
    return true
  const { values } = samplesIn(facts.drive.channels.get('charger_current'), fromS, toS)
  if (values.filter((amperes) => Math.abs(amperes) > CHARGER_A).length > 0.2 * values.length) return true
  // a log without plug and charger current: mains, request, release or pilot, which may come just after the contactors
  return overlap(facts.once(chargingShown), [[fromS, toS + AFTER_S]]).some(
    ([from, to]) => to - from > SHOWN_S,
  )
}

/** What shows a charge stands for so long, s. Common practice, no source. */
const SHOWN_S = 10
/** Charger and battery unit agree in so long, s. Common practice, no source. */
const AFTER_S = 30
/** A plug pulled this near the end of a span ends it, s. */
const PLUG_OUT_LATE_S = 2
/** A charger that gives more than this charges, A. Common practice, no source. */
const CHARGER_A = 1
