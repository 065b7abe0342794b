import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { heldAt } from '../../samples/on-one-clock.ts'

/** Under this nothing flows, A. Common practice, no source. */
export const FLOWS_A = 1
/** Shorter is no session, s. Common practice, no source. */
const LEAST_S = 60
/** Without a plug signal a pause of so much ends a session, s. Common practice, no source. */
const LONGEST_PAUSE_S = 1800

/**
 * Charge sessions: from the first current to the last while the plug stays in. Pauses belong to their session:
 *
 *     plug      ____--------------------------____
 *     current   _______/‾‾‾‾‾\____/‾‾‾‾‾‾‾\_______
 *     session          [                 ]            one, with a pause in it
 *
 * Reads the drive's segments of type `charging`, charge_plug [0/1].
 */
export function sessionSpans(facts: Facts): Span[] {
  const { segments, channels } = facts.drive
  const plug = channels.get('charge_plug')
  const believed = plug && plug.polarity !== null ? plug : null
  const staysIn = (fromS: number, toS: number): boolean => {
    const between = segments.filter(({ span_s: [from, to] }) => from < toS && to > fromS)
    if (between.some(({ type }) => type === 'driving')) return false
    if (!believed) return toS - fromS < LONGEST_PAUSE_S
    if (heldAt(believed, [fromS])[0] !== 1) return false
    return !believed.values.some(
      (value, i) => value === 0 && believed.timeS[i]! > fromS && believed.timeS[i]! < toS,
    )
  }
  const found: [number, number][] = []
  for (const { type, span_s } of segments) {
    if (type !== 'charging') continue
    const last = found.at(-1)
    if (last && (span_s[0] <= last[1] || staysIn(last[1], span_s[0]))) last[1] = span_s[1]
    else found.push([span_s[0], span_s[1]])
  }
  return found
    .map(([from, to], k): Span => [from, flowsUntil(facts, to, found[k + 1]?.[0] ?? facts.drive.durationS)])
    .filter(([from, to]) => to - from >= LEAST_S)
}

/** The segments end where a sensor's zero could be all that flows; the tail of a charge goes on beneath that. */
function flowsUntil(facts: Facts, fromS: number, limitS: number): number {
  const charger = facts.drive.channels.get('charger_current')
  const pack = facts.once(packCurrent)
  const { timeS, values } = charger ?? { timeS: pack?.timeS ?? [], values: pack?.amperes ?? [] }
  const flows = (i: number): boolean => (charger ? Math.abs(values[i]!) : -values[i]!) >= FLOWS_A
  let endS = fromS
  for (let i = 0; i < timeS.length && timeS[i]! < limitS; i++) {
    if (timeS[i]! <= fromS || !Number.isFinite(values[i]!)) continue
    if (!flows(i)) break
    endS = timeS[i]!
  }
  return endS
}
