import type { Channel } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'

export type Unit = 'bms' | 'inverter'

/** What a state's word means for the start chain. */
export type StateMeaning =
  | 'off'
  | 'waiting'
  | 'precharge'
  | 'closed'
  | 'powered'
  | 'ready'
  | 'drive'
  | 'charging'
  | 'fault'

/** What a battery unit's state says of the main contactors; null: nothing. */
export type StateContactors = 'open' | 'precharging' | 'closed' | null

interface Word {
  readonly says: RegExp
  readonly means: StateMeaning
  readonly contactors: StateContactors
  /** Only in the words of this unit. */
  readonly of?: Unit
}

/**
 * The words that vehicle files and text logs use for states; the first that matches counts.
 *
 * - Emptying the link (`link discharge`, and a bare `discharging` of an inverter) is a shut-down.
 * - A battery unit that discharges feeds the car: contactors closed.
 * - One that charges has closed them too, for the charger: no start.
 * - `drive disabled`: no drive; whether the contactors are open it does not say.
 * - `ready` of a battery unit may mean ready to close, or closed: it says nothing of the contactors by itself.
 * Common practice, no source.
 */
const WORDS: readonly Word[] = [
  { says: /no (fault|error)|fault[- ]?free/i, means: 'waiting', contactors: null },
  {
    says: /fault|error|fail|trip|emergency|crash|limp|alarm|timed? ?-?out/i,
    means: 'fault',
    contactors: null,
  },
  { says: /pre[-_\s]?charg/i, means: 'precharge', contactors: 'precharging' },
  {
    says: /(link|bus|dc|post|active|capacit\w*)[-_\s]*discharg|discharg\w*[-_\s]*(link|bus|dc|capacit)/i,
    means: 'off',
    contactors: null,
  },
  {
    says: /(dis)?charg\w*[-_\s]*(disabled|inhibit|not allowed|blocked|off)/i,
    means: 'off',
    contactors: null,
  },
  { says: /discharg/i, means: 'off', contactors: null, of: 'inverter' },
  { says: /discharg/i, means: 'drive', contactors: 'closed' },
  {
    says: /charg\w*[-_\s]*(done|complete|finished|ready|wait)|(not|await\w*|wait\w*)[-_\s]*(for[-_\s]*)?charg/i,
    means: 'charging',
    contactors: null,
  },
  { says: /charg/i, means: 'charging', contactors: 'closed' },
  { says: /disabled|inhibit/i, means: 'off', contactors: null },
  {
    says: /not ready|wait|standby|stand-by|idle|init|boot|self|\bopen|disconnect|check/i,
    means: 'waiting',
    contactors: 'open',
  },
  { says: /\boff\b|shut|sleep/i, means: 'off', contactors: 'open' },
  { says: /drive|driving|run|torque|traction/i, means: 'drive', contactors: 'closed' },
  { says: /ready|enabled/i, means: 'ready', contactors: null },
  { says: /closed|connected|active|operat|\bon\b/i, means: 'closed', contactors: 'closed' },
  { says: /power/i, means: 'powered', contactors: null },
]

const wordOf = (text: string, unit: Unit): Word | undefined =>
  WORDS.find(({ says, of }) => (of === undefined || of === unit) && says.test(text))

export function meaningOfWord(text: string | null, unit: Unit): StateMeaning | null {
  return text === null ? null : (wordOf(text, unit)?.means ?? null)
}

/** What a state of the battery unit says of its main contactors. */
export function contactorsByWord(text: string | null): StateContactors {
  return text === null ? null : (wordOf(text, 'bms')?.contactors ?? null)
}

/** The word of a state channel's value: from `states` of the vehicle file, else the log's own text; null without. */
export function stateWords(channel: Channel, vehicle: Vehicle, unit: Unit): (code: number) => string | null {
  const named = vehicle.states?.[unit] ?? {}
  return (code) => {
    const label = channel.labels?.[code]
    return named[label ?? String(code)] ?? label ?? null
  }
}
