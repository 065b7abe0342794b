import type { ChannelId } from '../../../shared/channels.ts'
import { absence, type Facts } from '../../facts/facts.ts'
import type { Outcome } from './start-outcome.ts'
import type { Change } from './start-signals.ts'

/** What the log says of one step in one attempt. */
export interface Verdict {
  /** null = cannot be seen, or not reached. */
  readonly held: boolean | null
  /** When it held, or when it was seen to fail. */
  readonly atS: number | null
  /** Not later than this, for the order of events; null where there is no moment. */
  readonly earliestS: number | null
  readonly why: string
  /** A condition that was false from the start of the attempt on. */
  readonly throughout?: boolean
  /** The failure is seen in itself, so that what came up at the same moment is rather its consequence. */
  readonly selfExplained?: boolean
}

export type Judge = (outcome: Outcome) => Verdict

export const unseen = (why: string): Verdict => ({ held: null, atS: null, earliestS: null, why })
export const yes = (change: Change | null, why: string): Verdict => ({
  held: true,
  atS: change && Number.isFinite(change.earliestS) ? change.atS : null,
  earliestS: change?.earliestS ?? null,
  why,
})
export const no = (
  atS: number,
  why: string,
  more: Partial<Pick<Verdict, 'earliestS' | 'throughout' | 'selfExplained'>> = {},
): Verdict => ({ held: false, atS, earliestS: atS, why, ...more })

/** Why a step's channels cannot show it: nothing says what their values mean, or there are none here. */
export const notLogged = (facts: Facts, ids: readonly ChannelId[]): string => {
  const unproved = ids.find((id) => facts.drive.channels.has(id))
  return unproved
    ? `${unproved} is logged, but nothing in the log or its name proves which value means what`
    : `${absence(facts, ids)} (${ids.join(', ')})`
}
