import type { Facts } from '../../facts/facts.ts'
import { type Change, type ContactorName, contactorTrack, switchTrack, trackOf } from './start-signals.ts'

/** A moment at which something on the 12 V system begins to draw. */
export interface LvStart {
  /** "the positive contactor pulls in". */
  readonly what: string
  readonly change: Change
}

const NAMES: readonly ContactorName[] = ['negative', 'precharge', 'positive']
/** A duty from here on turns the motor, %. Common practice, no source. */
const TURNS_PERCENT = 10
/** A duty that is regulated up and down starts its motor often; so many starts are told at most. */
const MOST_STARTS = 200

/** Contactors that pull in, the coolant pump and the fan that start; ascending. */
export function lvStarts(facts: Facts): readonly LvStart[] {
  const { channels } = facts.drive
  const duty = (id: 'pump_duty' | 'fan_duty') => trackOf(channels.get(id), (v) => (v > TURNS_PERCENT ? 1 : 0))
  const all = [
    ...NAMES.map((name) => [`the ${name} contactor pulls in`, contactorTrack(facts, name)] as const),
    ['the coolant pump starts', switchTrack(facts, 'coolant_pump') ?? duty('pump_duty')] as const,
    ['the fan starts', duty('fan_duty')] as const,
  ]
  return all
    .flatMap(([what, track]) =>
      (track?.changes ?? [])
        .filter((change, i) => i > 0 && change.value === 1)
        .slice(0, MOST_STARTS)
        .map((change) => ({ what, change })),
    )
    .sort((a, b) => a.change.atS - b.change.atS)
}
