import { catalogueEntry } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { extremes, median } from '../../math/stats.ts'

/** Two-bit switch states: 0 off, 1 on, 2 error, 3 not available. Source: SAE J1939-71, from memory. */
const MOST_CODE = 3
/** A duty in percent ends here; beyond it counts in bytes. */
const ALL_PERCENT = 100

const words = (text: string, state: number): Record<string, number> =>
  Object.fromEntries(text.split(' ').map((word) => [word, state]))

/** Words that state what a switch is, whatever its column is called. */
const PLAIN: Readonly<Record<string, number>> = {
  closed: 1,
  close: 1,
  on: 1,
  ok: 1,
  in: 1,
  plugged: 1,
  connected: 1,
  pressed: 1,
  ready: 1,
  active: 1,
  open: 0,
  off: 0,
  fault: 0,
  out: 0,
  unplugged: 0,
  disconnected: 0,
  released: 0,
  'not ready': 0,
  inactive: 0,
  run: 1,
  tripped: 0,
  broken: 0,
  interrupted: 0,
  // German, French, Spanish, Italian, Portuguese, Dutch, Scandinavian, Polish, Czech, Finnish
  ...words('geschlossen ein an gedrückt fermé ferme cerrado cerrada chiuso chiusa fechado fechada ligado', 1),
  ...words(
    'gesloten aan ingedrukt stängd sluten lukket på zamknięty włączony sepnuto zapnuto kiinni päällä',
    1,
  ),
  ...words('offen aus losgelassen ouvert arrêt abierto abierta aperto aperta aberto aberta desligado', 0),
  ...words('uit los öppen åpen åben av fra otwarty wyłączony rozepnuto vypnuto auki pois', 0),
}
/** Words that only say whether the column's own statement holds. */
const LOGICAL: Readonly<Record<string, number>> = {
  true: 1,
  false: 0,
  ...words('1 yes ja oui sí si sim tak ano kyllä', 1),
  ...words('0 no nein nee nej nei non não nie ne ei', 0),
}
/** Words of a moment at which the switch says nothing. */
const NO_STATE = /unknown|invalid|error|init|n\/?a|sna|unavail|undef|unbekannt|inconnu|\?|^[-–]*$/

/** How a switch column became 0/1; `null` where it already was. */
export interface LevelledSwitch {
  readonly channel: Channel
  readonly conversion: string | null
  /** The values were words such as `open` that leave no doubt about the polarity. */
  readonly plainWords: boolean
  /** Coil duties that never came down from pulling in: what they mean only the car can prove, no name can. */
  readonly neverPulledIn?: boolean
}

/** A coil takes over half of its supply to pull in, and holds on far less. Common practice, no source. */
const PULLS_IN = 0.5
/** Under this share a coil is off: an economiser holds with 15 % or more. Common practice, no source. */
const OFF = 0.05
/** Pulling in lasts 0.1 s or longer; slower rows may miss it, s. Common practice, no source. */
const PULL_IN_S = 0.1

/**
 * Brings a switch channel to 0, 1 and NaN.
 * - values 0, 1 and 2 or 3: two-bit status; 2 (error) and 3 (not available) become NaN (SAE J1939-71, from memory);
 * - contactor coils as a duty in % or 0 … 255: `coilDuty`;
 * - other larger numbers (0 … 255, volts): on above a tenth of the highest value;
 * - text: plain words by the table above, or the opposite of one; other text becomes NaN.
 */
export function levelSwitch(channel: Channel): LevelledSwitch {
  if (catalogueEntry(channel.id)?.kind !== 'switch') return { channel, conversion: null, plainWords: false }
  const { labels } = channel
  if (labels) {
    const said = labels.map((label) => label.trim().toLowerCase())
    const plainWords = said.some((word) => PLAIN[word] !== undefined)
    const meaning = stateOf(said)
    const values = channel.values.map((value) => meaning[value] ?? Number.NaN)
    const conversion = labels.map((label, at) => `${label} → ${meaning[at]}`).join(', ')
    return { channel: { ...channel, values, labels: null }, conversion, plainWords }
  }
  const { low, high } = extremes(channel.values)
  const whole = channel.values.every((value) => Number.isNaN(value) || Number.isInteger(value))
  if (whole && low >= 0 && high <= 1) return { channel, conversion: null, plainWords: false }
  if (whole && low >= 0 && high <= MOST_CODE) {
    const values = channel.values.map((value) => (value > 1 ? Number.NaN : value))
    return {
      channel: { ...channel, values },
      conversion: 'two-bit status: 2 and 3 are no value',
      plainWords: false,
    }
  }
  if (channel.id.startsWith('contactor_') && low >= 0 && (high > MOST_CODE || channel.unit === '%'))
    return coilDuty(channel, channel.unit === 'V' ? high : high > ALL_PERCENT ? 255 : 100)
  const threshold = high > 0 ? high / 10 : Number.POSITIVE_INFINITY
  const values = channel.values.map((value) => (Number.isNaN(value) ? Number.NaN : value > threshold ? 1 : 0))
  return {
    channel: { ...channel, values, step: 1 },
    conversion: `on above ${Number(threshold.toPrecision(3))}`,
    plainWords: false,
  }
}

/** Of two words of which one is known the other is its opposite: `off` and `cranking`, `OK` and `tripped`. */
function stateOf(said: readonly string[]): number[] {
  const meaning = said.map((word) => PLAIN[word] ?? LOGICAL[word] ?? Number.NaN)
  const states = meaning.flatMap((state, at) => (NO_STATE.test(said[at]!) ? [] : [state]))
  const known = states.filter((state) => !Number.isNaN(state))
  if (states.length !== 2 || known.length !== 1) return meaning
  return meaning.map((state, at) =>
    Number.isNaN(state) && !NO_STATE.test(said[at]!) ? 1 - known[0]! : state,
  )
}

/**
 * A coil's duty as a contactor: closed from a pull-in (over half of the supply) until the duty ends. A low duty that
 * did not come down from a pull-in closes nothing: no value, unless rows are too slow to show pull-ins and this log
 * shows one elsewhere. Where it shows none at all, the low duty is taken as closed and left for the car to prove.
 */
function coilDuty(channel: Channel, full: number): LevelledSwitch {
  const { timeS, values } = channel
  const off = OFF * full
  const pullsIn = PULLS_IN * full
  const everPulledIn = values.some((value) => value > pullsIn)
  let heldUp = false
  let offUntilS = Number.NaN
  const closed = values.map((value, i) => {
    if (Number.isNaN(value)) return Number.NaN
    if (value <= off) {
      heldUp = false
      offUntilS = timeS[i]!
      return 0
    }
    const pullInMissed = timeS[i]! - offUntilS > PULL_IN_S
    offUntilS = Number.NaN
    if (value > pullsIn || pullInMissed || !everPulledIn) heldUp = true
    return heldUp ? 1 : Number.NaN
  })
  return {
    channel: { ...channel, values: closed, step: 1 },
    conversion: `coil duty, holds with ${median(values.filter((value) => value > off)).toFixed(0)}: closed from over ${pullsIn.toFixed(0)} on until under ${off.toFixed(0)}`,
    plainWords: false,
    neverPulledIn: !everPulledIn,
  }
}
