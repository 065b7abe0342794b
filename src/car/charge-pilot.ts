/**
 * What a charging station and its cable say over pilot and proximity wire.
 * Source: IEC 61851-1, annexes A and B (from memory): duty against current, states by the pilot's upper level, coding of
 * the cable by the proximity resistor.
 */

/** Duty that means: what may flow is agreed by digital messages, % (5 nominal). */
const DIGITAL = [3, 7] as const
/** Duty below and above which no current is offered, %. */
const OFFERED = [8, 97] as const

export type Offer =
  | { readonly says: 'none' }
  | { readonly says: 'digital' }
  | { readonly says: 'amperes'; readonly amperes: number }

/** What the pilot's duty offers: A = 0.6 · % from 10 to 85, A = 2.5 · (% − 64) to 96, 6 A from 8, 80 A to 97. */
export function offerOf(dutyPercent: number): Offer {
  if (dutyPercent >= DIGITAL[0] && dutyPercent <= DIGITAL[1]) return { says: 'digital' }
  if (!(dutyPercent >= OFFERED[0] && dutyPercent <= OFFERED[1])) return { says: 'none' }
  if (dutyPercent < 10) return { says: 'amperes', amperes: 6 }
  if (dutyPercent <= 85) return { says: 'amperes', amperes: 0.6 * dutyPercent }
  return { says: 'amperes', amperes: Math.min(80, 2.5 * (dutyPercent - 64)) }
}

/** A the pilot allows by its duty; NaN where it offers none or sets no limit. */
export function pilotAmperes(dutyPercent: number): number {
  const offer = offerOf(dutyPercent)
  return offer.says === 'amperes' ? offer.amperes : Number.NaN
}

/** Cable by its resistor: rating in A, and how far its reading may lie (Ω). The ranges between are our own. */
const CABLES = [
  { amperes: 63, nominal: 100, from: 70, to: 150 },
  { amperes: 32, nominal: 220, from: 150, to: 370 },
  { amperes: 20, nominal: 680, from: 550, to: 1000 },
  { amperes: 13, nominal: 1500, from: 1000, to: 2460 },
] as const

/** Over this no cable is seen (an inlet alone reads 2.7 kΩ or an open circuit), under the other the wire is shorted, Ω. */
export const OPEN_OHM = 2600
export const SHORTED_OHM = 30

/** A the cable is built for by its proximity resistor; NaN where the reading is none of the standard's. */
export const cableAmperes = (ohm: number): number =>
  CABLES.find(({ from, to }) => ohm >= from && ohm < to)?.amperes ?? Number.NaN

/** The pilot's upper level by the standard's states: 12 V nobody plugged in, 9 V plugged in, 6 or 3 V asks for current. */
export type PilotState = 'not-connected' | 'connected' | 'asks' | 'none'

export function pilotState(volt: number): PilotState {
  if (volt > 10.5) return 'not-connected'
  if (volt > 7.5) return 'connected'
  return volt > 1.5 ? 'asks' : 'none'
}
