import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { KINDS, type KindEntry } from '../../shared/kinds.ts'

/**
 * Kinds named by the contract ("Finding kinds"), copied from it on 2026-11-27: the program's table holds each of them.
 */
const CONTRACT =
  'joint-resistance-high cell-weak cell-imbalance sense-lead-offset sense-tap-misplaced parallel-cell-open cell-reading-frozen cell-reading-invalid cell-voltage-limit main-path-resistance-high contactor-resistance-high box-link-resistance-high module-cooling-poor temperature-limit temperature-rise-fast charge-when-cold temperature-reading-invalid temperature-reading-frozen coolant-flow-doubtful current-offset current-clipped charge-current-over-limit discharge-current-over-limit soc-disagrees pedal-mismatch pedal-out-of-range pedal-with-brake torque-without-pedal torque-against-selector torque-lag regen-lag precharge-incomplete precharge-open link-discharge-slow contactor-welded inertia-switch-open interlock-open charge-plug-in selector-not-neutral lv-voltage-low isolation-low contactor-opened-under-load drive-lost no-drive torque-unrequested self-heating cell-self-discharge regen-lock-margin fault-reported signs-differ unit-doubtful clock-stepped rows-repeated changed-since-last-drive unlike-other-builds charge-not-started charge-interrupted charge-slow load-stays-on node-silent log-gap dcdc-not-charging lamp-disagrees wheel-slip regen-dead-band regen-limited regen-step brake-signal-missing'.split(
    ' ',
  )

const root = join(import.meta.dirname, '../..')
const entries = KINDS as Readonly<Record<string, KindEntry>>

test('every kind of the contract has an area, a view, subjects and words', () => {
  for (const kind of CONTRACT) {
    const entry = entries[kind]
    expect(entry, kind).toBeDefined()
    expect(entry!.subjects.length, kind).toBeGreaterThan(0)
    expect(entry!.words, kind).toMatch(/^[a-z0-9][^.]*[a-zA-Z0-9’ ]$/)
  }
})

/** `kind: 'x'` with the `subject: { type: 'y'` that stands beside it in one literal. */
function raised(): { file: string; kind: string; subject: string | null }[] {
  const found: { file: string; kind: string; subject: string | null }[] = []
  for (const entry of readdirSync(join(root, 'src'), { recursive: true, withFileTypes: true })) {
    const file = join(entry.parentPath, entry.name)
    if (!entry.isFile() || !entry.name.endsWith('.ts') || !/\/(questions|library)$/.test(entry.parentPath))
      continue
    const text = readFileSync(file, 'utf8')
    for (const match of text.matchAll(
      /\bkind: '([a-z0-9-]+)'(?: as const)?,\n\s*(?:subject: \{\s*type: '([a-z-]+)')?/g,
    ))
      found.push({ file: entry.name, kind: match[1]!, subject: match[2] ?? null })
  }
  return found
}

test('every kind that a question raises has a row, and accuses what its row says', () => {
  const all = raised()
  expect(all.length).toBeGreaterThan(60)
  const wrong = all.filter(
    ({ kind, subject }) =>
      !entries[kind] ||
      (subject !== null && !(entries[kind].subjects as readonly string[]).includes(subject)),
  )
  expect(wrong).toEqual([])
})
