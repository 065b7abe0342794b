import { expect, it } from 'vitest'
import { tryOne } from './fuzz.ts'
import { TARGETS } from './targets.ts'

/** Mutants a kind: those that end in a review are slow. `npm run fuzz` goes on from there. */
const MUTANTS = { tables: 25, frames: 25, captures: 25 } as Readonly<Record<string, number>>

it.each(TARGETS)(
  '$name: every mutant is read, or refused with a sentence',
  { timeout: 120_000 },
  async (target) => {
    for (let seed = 1; seed <= (MUTANTS[target.name] ?? 300); seed++)
      expect(await tryOne(target, seed)).toBe(null)
  },
)
