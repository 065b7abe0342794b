import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { expect, test } from 'vitest'
import { KIND_NAMES } from '../../shared/kinds.ts'

/** What DEVELOPERS.md asks for in steps: a step that was forgotten fails here, and the message says which one. */
const root = join(import.meta.dirname, '../..')

function texts(folder: string): Map<string, string> {
  return new Map(
    readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && /\.(tsx?|mjs|cjs)$/.test(entry.name))
      .map((entry) => join(entry.parentPath, entry.name))
      .map((path) => [relative(root, path), readFileSync(path, 'utf8')]),
  )
}

const SRC = texts('src')
const ALL = new Map([...SRC, ...texts('shared'), ...texts('web')])
const TESTS = [...texts('tests').values()].join('\n')

/** Started by name: by the command line, a worker, npm. */
const STARTED = new Set(['src/cli.ts', 'src/start.ts'])

test('every file of src is reached: a question stands in run-all.ts, an importer in registry.ts', () => {
  const reached = new Set<string>()
  for (const [file, text] of ALL)
    for (const [, to] of text.matchAll(/(?:from |import\(|import |new URL\()\s*'(\.[^']+)'/g))
      reached.add(relative(root, resolve(root, dirname(file), to!)))
  const started = (file: string): boolean => STARTED.has(file) || /worker\.ts$|\.cjs$/.test(file)
  const orphans = [...SRC.keys()]
    .filter((file) => !reached.has(file) && !started(file))
    .map((file) =>
      file.includes('/questions/')
        ? `${file} is asked by nobody: add it to ANALYSES in src/review/run-all.ts`
        : file.startsWith('src/importers/')
          ? `${file} reads nothing: add it to IMPORTERS in src/importers/registry.ts`
          : `${file} is imported by nobody`,
    )
  expect(orphans).toEqual([])
})

/** Kinds whose question or test is to come (named by the contract), and one that only stored reviews hold. */
const EXCUSED: readonly string[] = ['changed-since-last-drive', 'unlike-other-builds', 'resistance-grown']

test('every kind is raised by a question, and by a test', () => {
  const raisedIn = [...SRC]
    .filter(([file]) => !file.startsWith('src/report'))
    .map(([, text]) => text)
    .join('\n')
  const named = (text: string, kind: string): boolean => new RegExp(`['"\`]${kind}\\b`).test(text)
  expect(KIND_NAMES.filter((kind) => !EXCUSED.includes(kind) && !named(raisedIn, kind))).toEqual([])
  expect(
    KIND_NAMES.filter((kind) => !EXCUSED.includes(kind) && !named(TESTS, kind)).map(
      (kind) => `${kind}: no test raises it; add one beside its question's`,
    ),
  ).toEqual([])
})

test('what src exports is used elsewhere: no more than ten names wait for their user', () => {
  const holders = new Map<string, number>()
  for (const text of [...ALL.values(), TESTS])
    for (const word of new Set(text.match(/\w+/g) ?? [])) holders.set(word, (holders.get(word) ?? 0) + 1)
  const unused: string[] = []
  for (const [file, text] of SRC)
    for (const [, name] of text.matchAll(/^export (?:async )?(?:function\*?|const|class) (\w+)/gm))
      if (holders.get(name!) === 1)
        unused.push(`${file}: ${name} is used in its own file only: it needs no export, or it is dead`)
  expect(unused.slice(10)).toEqual([])
})
