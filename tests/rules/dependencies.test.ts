import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'

/** Runtime packages, each with its reason in DEVELOPERS.md. Another one needs a line there and here. */
const ALLOWED = ['csv-parse', 'danfojs', 'express', 'preact', 'uplot', 'zod']

test('runtime dependencies are the agreed ones', () => {
  const manifest = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8')) as {
    dependencies: Record<string, string>
    overrides: Record<string, string>
  }
  expect(Object.keys(manifest.dependencies).sort()).toEqual(ALLOWED)
  expect(manifest.overrides).toEqual({ xlsx: '0.18.5' })
})
