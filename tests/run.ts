import { spawnSync } from 'node:child_process'
import { mkdirSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'

/** Runs the whole test suite and closes with one plain line: `N passed, N failed`. */
const artefacts = join(import.meta.dirname, '.artefacts')
const results = join(artefacts, 'results.json')
mkdirSync(artefacts, { recursive: true })
rmSync(results, { force: true })
const vitest = join(import.meta.dirname, '../node_modules/vitest/vitest.mjs')
const run = spawnSync(
  process.execPath,
  [
    vitest,
    'run',
    '--reporter=default',
    '--reporter=json',
    `--outputFile.json=${results}`,
    ...process.argv.slice(2),
  ],
  { stdio: ['ignore', 'inherit', 'inherit'] },
)
let passed = 0
let failed = 0
try {
  const counted = JSON.parse(readFileSync(results, 'utf8')) as {
    numPassedTests: number
    numFailedTests: number
    numFailedTestSuites: number
  }
  passed = counted.numPassedTests
  // A file that cannot even load has no failed test of its own; it is a failure all the same.
  failed = Math.max(counted.numFailedTests, run.status === 0 ? 0 : 1)
} catch {
  failed = 1
}
console.log(`${passed} passed, ${failed} failed`)
process.exitCode = run.status !== 0 || failed > 0 || passed === 0 ? 1 : 0
