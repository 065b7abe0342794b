import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { tryOne } from './fuzz.ts'
import { Routes } from './routes.ts'
import { StoredFiles } from './stored-files.ts'
import { TARGETS } from './targets.ts'

/** Mutants a kind. `npm run fuzz` goes on from there; the README tells how far it went. */
const MUTANTS = { parsers: 1600, reviews: 200, stored: 100, routes: 400 }
/** Mutants of each kind of log, whose readers cost more than those of JSON. */
const OF_LOGS = 300

const folder = mkdtempSync(join(tmpdir(), 'aftermile-fuzz-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

it.each(TARGETS)(
  '$name: every mutant is read, or refused with a sentence',
  { timeout: 120_000 },
  async (target) => {
    const most = target.group === 'parsers' && target.isLog ? OF_LOGS : MUTANTS[target.group]
    for (let seed = 1; seed <= most; seed++) expect(await tryOne(target, seed, folder)).toBe(null)
  },
)

it('a stored drive with any file of it spoiled is shown as far as it is sound, or refused with a sentence', () => {
  const stored = new StoredFiles()
  try {
    for (let seed = 1; seed <= MUTANTS.stored; seed++) expect(stored.tryOne(seed)).toBe(null)
  } finally {
    stored.close()
  }
})

it('every request, however spoiled, gets an answer with a sentence', { timeout: 120_000 }, async () => {
  const routes = await Routes.open()
  try {
    for (let seed = 1; seed <= MUTANTS.routes; seed++) expect(await routes.tryOne(seed)).toBe(null)
  } finally {
    await routes.close()
  }
})
