import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { describe, expect, test } from 'vitest'

/**
 * One direction of flow: shared ← math ← samples ← naming, importers ← drive ← open; shared ← facts ← car ← the
 * eight rooms ← review ← library, report ← server, command line. A folder may import itself and what its row names;
 * a bare name is a package, `node:` the platform. A room never reaches sideways into another.
 */
const ROOMS = ['charge', 'current', 'pack', 'heat', 'start', 'pedal', 'brake', 'log']
const BELOW_ROOMS = ['shared', 'src/math', 'src/samples', 'src/drive', 'src/facts', 'src/car']
const ABOVE = [
  ...BELOW_ROOMS,
  'src/naming',
  'src/importers',
  'src/open',
  'src/look',
  'src/bytes',
  'src/errors.ts',
  'zod',
  'node:',
]

/** What still reaches sideways, with the reason. */
const SIDEWAYS: Readonly<Record<string, string>> = {
  'src/pack/models/cell-peers.ts': 'heat takes the cells of a module as its thermometer',
}

const MAY: Readonly<Record<string, readonly string[]>> = {
  shared: ['zod'],
  'src/math': ['shared'],
  'src/bytes': ['node:', 'shared/bounds.ts', 'src/errors.ts'],
  'src/samples': ['shared', 'src/math'],
  'src/naming': [
    'shared',
    'src/math',
    'src/samples',
    'src/bytes/json-file.ts',
    'src/errors.ts',
    'zod',
    'node:',
  ],
  'src/importers': [
    'shared',
    'src/math',
    'src/bytes',
    'src/samples',
    'src/naming',
    'src/errors.ts',
    'csv-parse',
    'hyparquet',
    'saxes',
    'zod',
    'node:',
  ],
  'src/drive': ['shared', 'src/math', 'src/samples', 'src/naming', 'src/importers/time', 'src/errors.ts'],
  'src/open': [
    'shared',
    'src/bytes',
    'src/importers',
    'src/naming',
    'src/drive',
    'src/errors.ts',
    'zod',
    'node:',
  ],
  'src/look': [
    'shared',
    'src/math',
    'src/bytes',
    'src/importers',
    'src/open',
    'src/errors.ts',
    'zod',
    'node:',
  ],
  'src/facts': ['shared'],
  'src/car': ['shared', 'src/math', 'src/samples', 'src/drive', 'src/facts'],
  ...Object.fromEntries(ROOMS.map((room) => [`src/${room}`, [...BELOW_ROOMS, 'zod']])),
  'src/review': [...BELOW_ROOMS, ...ROOMS.map((room) => `src/${room}`), 'zod'],
  'src/report': [...BELOW_ROOMS, ...ROOMS.map((room) => `src/${room}`), 'node:'],
  'src/tables': ['shared', 'danfojs', 'src/errors.ts'],
  'src/history': [...BELOW_ROOMS, 'src/review'],
  'src/library': [
    ...ABOVE,
    ...ROOMS.map((room) => `src/${room}`),
    'src/review',
    'src/report',
    'src/out',
    'src/history',
  ],
  'src/cars': [...ABOVE, 'src/review', 'src/report', 'src/history', 'src/library', 'src/tables'],
  'src/out': ['shared', 'src/errors.ts', 'src/tables/table-csv.ts', 'hyparquet-writer', 'node:'],
  'src/batch': [...ABOVE, 'src/review', 'src/report', 'src/library', 'src/out', 'bullmq', 'ioredis'],
  'src/server': [
    ...ABOVE,
    ...ROOMS.map((room) => `src/${room}`),
    'src/review',
    'src/history',
    'src/library',
    'src/cars',
    'src/report',
    'src/tables',
    'express',
  ],
  web: ['shared', 'preact', 'uplot', 'zod'],
}

const root = join(import.meta.dirname, '../..')

/** Files of a room; none where it is only planned yet. */
function sources(folder: string): string[] {
  if (!existsSync(join(root, folder))) return []
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

/** Files that reach themselves through others, type imports included. */
function circles(files: readonly string[]): string[] {
  const state = new Map<string, 'open' | 'done'>()
  const found: string[] = []
  const visit = (file: string, path: readonly string[]): void => {
    if (state.get(file) === 'done') return
    if (state.get(file) === 'open') {
      found.push([...path.slice(path.indexOf(file)), file].join(' → '))
      return
    }
    state.set(file, 'open')
    for (const to of importsOf(file)) if (files.includes(to)) visit(to, [...path, file])
    state.set(file, 'done')
  }
  for (const file of files) visit(file, [])
  return found
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
          if (!allowed && !SIDEWAYS[to]) breaches.push(`${file} imports ${to}`)
        }
      expect(breaches).toEqual([])
    })

  test('every folder of src has a row', () => {
    const folders = readdirSync(join(root, 'src'), { withFileTypes: true })
      .filter((entry) => entry.isDirectory())
      .map((entry) => `src/${entry.name}`)
    expect(folders.filter((folder) => !MAY[folder])).toEqual([])
  })

  test('no file of src, shared or web reaches itself through others', () => {
    expect(circles([...sources('src'), ...sources('shared'), ...sources('web')])).toEqual([])
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

  test('CSV export does not load danfojs, not even later', () => {
    const reached = new Set<string>()
    const visit = (file: string): void => {
      if (reached.has(file)) return
      reached.add(file)
      if (file.startsWith('src/') || file.startsWith('shared/')) for (const to of importsOf(file)) visit(to)
    }
    visit('src/tables/table-csv.ts')
    expect(reached.has('src/tables/columns.ts')).toBe(true)
    expect([...reached].filter((each) => each.startsWith('danfojs'))).toEqual([])
  })

  test('questions and models know no clock, no luck and no console', () => {
    const wrong = [...ROOMS.map((room) => `src/${room}`), 'src/car', 'src/facts', 'src/math', 'src/samples']
      .flatMap(sources)
      .filter((file) =>
        /\bMath\.random\b|\bDate\.now\b|\bnew Date\(\)|\bconsole\.|\bprocess\./.test(
          readFileSync(join(root, file), 'utf8'),
        ),
      )
    expect(wrong).toEqual([])
  })
})
