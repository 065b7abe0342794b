import type { Facts } from '../analyses/analysis.ts'

/** Why regeneration was held back at each moment of the brake trace: 0 = nothing, else an index into `causes`. */
export interface LimitMarks {
  readonly cause: Uint8Array
  readonly causes: readonly string[]
}

export function regenLimits(_facts: Facts): LimitMarks | null {
  return null
}
