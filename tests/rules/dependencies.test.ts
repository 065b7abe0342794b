import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { expect, test } from 'vitest'

/** Runtime packages, each with its reason in DEVELOPERS.md. Another one needs a line there and here. */
const ALLOWED = [
  'bullmq',
  'csv-parse',
  'danfojs',
  'express',
  'hyparquet',
  'hyparquet-writer',
  'ioredis',
  'msgpackr-extract',
  'preact',
  'saxes',
  'uplot',
  'xlsx',
  'zod',
]

const ROOT = join(import.meta.dirname, '../..')
const json = (file: string) => JSON.parse(readFileSync(join(ROOT, file), 'utf8'))

test('runtime dependencies are the agreed ones, each with its reason in DEVELOPERS.md', () => {
  const manifest = json('package.json') as { dependencies: Record<string, string> }
  expect(Object.keys(manifest.dependencies).sort()).toEqual(ALLOWED)
  const reasons = readFileSync(join(ROOT, 'DEVELOPERS.md'), 'utf8').split('Runtime packages, and why:')[1]!
  expect(ALLOWED.filter((name) => !reasons.includes(name))).toEqual([])
})

test('no spreadsheet reader is installed: an empty package of our own stands in for the one danfojs names', () => {
  const manifest = json('package.json') as {
    dependencies: Record<string, string>
    overrides: Record<string, string>
  }
  expect(manifest.overrides.xlsx).toBe('$xlsx')
  expect(manifest.dependencies.xlsx).toBe('file:src/tables/no-xlsx')
  const stub = createRequire(import.meta.url)('../../src/tables/no-xlsx/index.cjs') as { read: () => void }
  expect(stub.read).toThrow('no spreadsheets')
})

test('no native package is loaded at run time: the one that msgpackr names is an empty package of our own', () => {
  const manifest = json('package.json') as {
    dependencies: Record<string, string>
    overrides: Record<string, string>
  }
  expect(manifest.overrides['msgpackr-extract']).toBe('$msgpackr-extract')
  expect(manifest.dependencies['msgpackr-extract']).toBe('file:src/batch/no-native')
  const { packages } = json('package-lock.json') as {
    packages: Record<string, { dev?: boolean; os?: string[]; devOptional?: boolean }>
  }
  const native = Object.entries(packages).filter(
    ([path, each]) => path.includes('node_modules/') && each.os && !each.dev && !each.devOptional,
  )
  expect(native.map(([path]) => path)).toEqual([])
})

/** Licences that allow what this project does, each read in the lock file; a new one is looked at by a person first. */
const LICENCES =
  /^(0BSD|Apache-2\.0|BlueOak-1\.0\.0|BSD-[23]-Clause|CC-BY-4\.0|CC0-1\.0|ISC|MIT|MIT-0|MPL-2\.0|Unlicense)$/

/** The lock file names no licence; the package's own LICENSE file says MIT. */
const BY_THEIR_OWN_FILE = ['node_modules/typed-function']

test('every package of the lock file carries a known licence', () => {
  const { packages } = json('package-lock.json') as {
    packages: Record<string, { license?: string; link?: boolean }>
  }
  const odd = Object.entries(packages)
    .filter(([path, each]) => path.includes('node_modules/') && !each.link)
    .filter(
      ([, { license }]) =>
        !(license ?? 'none')
          .replace(/[()]/g, '')
          .split(/ (?:OR|AND) /)
          .every((one) => LICENCES.test(one)),
    )
    .filter(([path]) => !BY_THEIR_OWN_FILE.includes(path))
    .map(([path, { license }]) => `${path}: ${license}`)
  expect(odd).toEqual([])
})
