import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { describe, expect, test } from 'vitest'

/**
 * One direction of flow: bytes → importers → naming, drive → models, analyses → report, library, server, web.
 * Each folder may import itself and what its row names; a bare name is a package, `node:` the platform.
 */
const MAY: Readonly<Record<string, readonly string[]>> = {
  shared: ['zod'],
  'src/math': ['shared'],
  'src/bytes': ['node:', 'src/errors.ts'],
  'src/naming': ['shared', 'src/math', 'src/importers', 'src/drive', 'src/errors.ts', 'zod', 'node:'],
  'src/drive': ['shared', 'src/math', 'src/importers', 'src/naming', 'src/errors.ts'],
  'src/importers': [
    'shared',
    'src/bytes',
    'src/drive',
    'src/naming',
    'src/math',
    'src/errors.ts',
    'csv-parse',
    'zod',
    'node:',
  ],
  'src/models': ['shared', 'src/math', 'src/drive', 'src/analyses'],
  'src/analyses': ['shared', 'src/math', 'src/drive', 'src/models', 'zod'],
  'src/report': ['shared', 'src/math', 'src/drive', 'src/models', 'src/analyses', 'node:'],
  'src/tables': ['shared', 'danfojs', 'src/errors.ts'],
  'src/library': [
    'shared',
    'src/math',
    'src/drive',
    'src/importers',
    'src/naming',
    'src/models',
    'src/analyses',
    'src/bytes',
    'src/report',
    'src/errors.ts',
    'src/review.ts',
    'src/vehicle-file.ts',
    'zod',
    'node:',
  ],
  'src/server': [
    'shared',
    'src/math',
    'src/drive',
    'src/bytes',
    'src/models',
    'src/analyses',
    'src/library',
    'src/report',
    'src/tables',
    'src/naming',
    'src/errors.ts',
    'src/review.ts',
    'src/vehicle-file.ts',
    'express',
    'zod',
    'node:',
  ],
  web: ['shared', 'preact', 'uplot', 'zod'],
}

/** Of `analyses`, models may use only what says what a fact is; analyses never import each other's answers. */
const FACTS_ONLY = 'src/analyses/analysis.ts'

const root = join(import.meta.dirname, '../..')

function sources(folder: string): string[] {
  return readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name) && entry.name !== 'vite.config.ts')
    .map((entry) => relative(root, join(entry.parentPath, entry.name)))
}

function importsOf(file: string): string[] {
  const text = readFileSync(join(root, file), 'utf8')
  return [
    ...text.matchAll(
      /(?:^import|^export)\s[^'"]*?from\s+'([^']+)'|^import\s+'([^']+)'|import\('([^']+)'\)/gm,
    ),
  ].map((match) => {
    const to = match[1] ?? match[2] ?? match[3]!
    return to.startsWith('.') ? relative(root, resolve(root, dirname(file), to)) : to
  })
}

describe('who may import whom', () => {
  for (const [folder, may] of Object.entries(MAY))
    test(folder, () => {
      const breaches: string[] = []
      for (const file of sources(folder))
        for (const to of importsOf(file)) {
          const allowed =
            to.startsWith(`${folder}/`) ||
            may.some((each) => to === each || to.startsWith(each.endsWith(':') ? each : `${each}/`))
          const facts = folder !== 'src/models' || !to.startsWith('src/analyses/') || to === FACTS_ONLY
          if (!allowed || !facts) breaches.push(`${file} imports ${to}`)
        }
      expect(breaches).toEqual([])
    })

  test('danfojs is imported in src/tables only, uplot in web/chart only', () => {
    const wrong = [...sources('src'), ...sources('web'), ...sources('shared')].filter((file) =>
      importsOf(file).some(
        (to) =>
          (to.startsWith('danfojs') && !file.startsWith('src/tables/')) ||
          (to.startsWith('uplot') && !file.startsWith('web/chart/') && !to.endsWith('.css')),
      ),
    )
    expect(wrong).toEqual([])
  })

  test('analyses and models know no clock, no luck and no console', () => {
    const wrong = [...sources('src/analyses'), ...sources('src/models'), ...sources('src/math')].filter(
      (file) =>
        /\bMath\.random\b|\bDate\.now\b|\bnew Date\(\)|\bconsole\.|\bprocess\./.test(
          readFileSync(join(root, file), 'utf8'),
        ),
    )
    expect(wrong).toEqual([])
  })
})
