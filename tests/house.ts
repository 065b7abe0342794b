import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'

/**
 * The house in figures: files a folder, their lengths, imports between rooms, long functions, docstrings of
 * questions, comparisons with a bare number. Prints the lists; `tests/rules/house.test.ts` holds the bounds.
 *
 *     npx tsx tests/house.ts [--all]
 */
const ROOT = join(import.meta.dirname, '..')

export interface SourceFile {
  readonly path: string
  readonly lines: readonly string[]
}

export function sourceFiles(folders: readonly string[] = ['src', 'shared', 'web']): SourceFile[] {
  return folders.flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
      .map((entry) => join(entry.parentPath, entry.name))
      .map((path) => ({
        path: relative(ROOT, path),
        lines: readFileSync(path, 'utf8').trimEnd().split('\n'),
      })),
  )
}

/** Named functions and methods with their lengths: from the line that begins one to the brace at its own depth. */
export function functionLengths({ path, lines }: SourceFile): { place: string; lines: number }[] {
  const found: { place: string; lines: number }[] = []
  lines.forEach((line, at) => {
    const begin =
      /^(\s*)(?:export )?(?:async )?(?:function\*? (\w+)|(?:static |private )?(?:async )?(\w+)\(.*\)?.*\{$)/.exec(
        line,
      )
    if (!begin || /^\s*(if|for|while|switch|return|else|catch)\b/.test(line)) return
    const end = lines.findIndex((each, i) => i > at && each.startsWith(`${begin[1]}}`))
    if (end > at) found.push({ place: `${path}:${at + 1} ${begin[2] ?? begin[3]}`, lines: end - at + 1 })
  })
  return found
}

export const DOC_PARTS = ['Model', 'Reads', 'Gives', 'Biased by', 'Blind', 'Source'] as const

/** Questions whose docstring lacks a part, with what it lacks. */
export function thinDocstrings(): string[] {
  return sourceFiles(['src'])
    .filter(({ path, lines }) => path.includes('/questions/') && /\): Answer \{/.test(lines.join('\n')))
    .flatMap(({ path, lines }) => {
      const text = lines.join('\n')
      const docs = [...text.matchAll(/\/\*\*(?:(?!\*\/)[\s\S])*\*\/\s*export function/g)].map(
        (each) => each[0],
      )
      const best = docs.sort((a, b) => b.length - a.length)[0] ?? ''
      const lacking = DOC_PARTS.filter(
        (part) => !new RegExp(`^\\s*\\*\\s+${part}[^:\\n]{0,20}:`, 'm').test(best),
      )
      return lacking.length > 0 ? [`${path}: ${lacking.join(', ')}`] : []
    })
}

/**
 * Comparisons of `src` with a bare number. The rule: an inequality (`<`, `<=`, `>`, `>=`) with a plain number alone to its
 * right, neither multiplied, added to nor called on, that is not 0, 1 or 2; comments and strings are left aside. It counts
 * 487 on the code of the day when the issue counted 494 (25 November 2026, by a script that is gone).
 */
export function bareComparisons(): string[] {
  return sourceFiles(['src']).flatMap(({ path, lines }) =>
    lines.flatMap((line, at) => {
      const code = line.replace(/\/\/.*|'[^']*'|`[^`]*`|"[^"]*"/g, '')
      if (/^\s*\*|^\s*\/\*/.test(code)) return []
      return [...code.matchAll(/(?<![=<>])[<>]=?\s*(-?\d[\d_.e]*)(?!\s*[*/+\w.(-])/g)]
        .filter((each) => ![0, 1, 2].includes(Number(each[1]!.replaceAll('_', ''))))
        .map((each) => `${path}:${at + 1} ${each[0]}`)
    }),
  )
}

function importsBetween(): Map<string, number> {
  const room = (path: string): string =>
    path.startsWith('src/') ? path.split('/').slice(0, 2).join('/') : path.split('/')[0]!
  const counts = new Map<string, number>()
  for (const { path, lines } of sourceFiles())
    for (const match of lines.join('\n').matchAll(/from '(\.[^']+)'/g)) {
      const to = relative(ROOT, resolve(ROOT, dirname(path), match[1]!))
      if (room(to) !== room(path)) {
        const key = `${room(path)} → ${room(to)}`
        counts.set(key, (counts.get(key) ?? 0) + 1)
      }
    }
  return counts
}

function main(): void {
  const files = sourceFiles()
  const byFolder = new Map<string, number>()
  for (const { path } of files) byFolder.set(dirname(path), (byFolder.get(dirname(path)) ?? 0) + 1)
  const lengths = files.map(({ lines }) => lines.length).sort((a, b) => a - b)
  const longest = [...files].sort((a, b) => b.lines.length - a.lines.length).slice(0, 10)
  console.log('Files a folder')
  for (const [folder, count] of [...byFolder].sort()) console.log(`  ${String(count).padStart(3)}  ${folder}`)
  console.log(`${files.length} files, median ${lengths[Math.floor(lengths.length / 2)]} lines`)
  for (const { path, lines } of longest) console.log(`  ${lines.length}  ${path}`)
  console.log('Imports between rooms')
  for (const [pair, count] of [...importsBetween()].sort())
    console.log(`  ${String(count).padStart(3)}  ${pair}`)
  const functions = sourceFiles(['src'])
    .flatMap(functionLengths)
    .sort((a, b) => b.lines - a.lines)
  const over = (n: number) => functions.filter(({ lines }) => lines > n).length
  console.log(`Functions of src over 60 lines: ${over(60)}; over 100: ${over(100)}`)
  for (const { place, lines } of functions.filter((each) => each.lines > 60))
    console.log(`  ${lines}  ${place}`)
  const thin = thinDocstrings()
  console.log(`Questions whose docstring lacks a part: ${thin.length}`)
  for (const each of thin) console.log(`  ${each}`)
  const bare = bareComparisons()
  console.log(`Comparisons with a bare number: ${bare.length}`)
  if (process.argv.includes('--all')) for (const each of bare) console.log(`  ${each}`)
}

if (process.argv[1] === import.meta.filename) main()
