import type { Review } from '../../shared/review.ts'
import type { Rungs } from './rungs.ts'

/**
 * Takes proposals out of the `regen` section while the road is closed, and says why: a proposal is something to try on
 * the road (the safety page). Replays stay: they are figures about this drive.
 */
export function withholdProposals(regen: Review['regen'], rungs: Rungs): Review['regen'] {
  if (!regen || rungs.road === null) return regen
  const shut = { ...regen, to_propose: null }
  return regen.proposals.length === 0 ? shut : { ...shut, proposals: [], proposals_withheld: rungs.road }
}
