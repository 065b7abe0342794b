import type { ProposedRow } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import { openLogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import { openDrive } from '../open/open-drive.ts'
import { onGrid } from './grid.ts'
import { lookAt } from './look.ts'
import { type Proposal, tableRow } from './proposal.ts'

const POINTS = 120

/**
 * Rows proposed for a capture that came without a signal table, beside another log of the same drive where one came with
 * it. A look that fails proposes nothing: the import's own sentence stands.
 */
export async function proposedRows(capture: string, others: readonly string[]): Promise<ProposedRow[]> {
  try {
    const look = await lookAt(await openLogSource(capture), { beside: await besides(others) })
    return [
      ...look.proposals.map(rowOf),
      ...look.protocols.rows.map((row) => ({
        ...(row as unknown as ProposedRow),
        sureness: 0.95,
        why: 'published formula of SAE J1979',
        otherwise: null,
        preview: [],
      })),
    ]
  } catch (error) {
    if (error instanceof LogError) return []
    throw error
  }
}

async function besides(others: readonly string[]): Promise<Drive | null> {
  for (const path of others)
    try {
      return await openDrive([path])
    } catch (error) {
      if (!(error instanceof LogError)) throw error
    }
  return null
}

function rowOf(proposal: Proposal): ProposedRow {
  const { timeS, raw } = proposal.candidate
  const grid = onGrid(timeS, raw, timeS[0]!, timeS[timeS.length - 1]!, POINTS, Number.POSITIVE_INFINITY)
  return {
    ...(tableRow(proposal) as unknown as ProposedRow),
    sureness: proposal.sureness,
    why: proposal.why,
    otherwise: proposal.otherwise,
    preview: Array.from(grid, (value) => (Number.isFinite(value) ? value : null)),
  }
}
