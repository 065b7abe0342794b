import type { Candidate } from './candidates.ts'
import type { Proposal } from './proposal.ts'

export function proposeByRelations(_candidates: readonly Candidate[]): Proposal[] {
  return []
}
