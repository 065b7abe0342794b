import { type AnyId, type Facts, family } from '../../facts/facts.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { cellCauses } from './cell-causes.ts'

export interface Unseen {
  readonly missing: readonly AnyId[]
  readonly why: string
  readonly toAssess: string
}

/** Why cell resistances cannot be read from this log, and what to log; null where they can. */
export function resistanceUnseen(facts: Facts): Unseen | null {
  const toAssess = 'Log every cell voltage and the pack current together, five times a second or more.'
  const missing: AnyId[] = [
    ...(family(facts, 'cell_voltage').length < FEWEST_PEERS ? (['cell_voltage'] as const) : []),
    ...(facts.drive.channels.has('pack_current') ? [] : (['pack_current'] as const)),
  ]
  if (missing.length > 0) return { missing, why: `the log has no ${missing.join(' and no ')}`, toAssess }
  if (facts.once(cellCauses)) return null
  return {
    missing,
    why: 'the current moved too little in this log for any resistance; it has to change by some tens of ampere, many times',
    toAssess,
  }
}
