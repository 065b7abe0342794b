import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import { expect, test } from 'vitest'
import { LABORATORY } from '../helpers/review-sentences.ts'

/**
 * What the program never says or proposes, looked for in every text that a person could read (strings of src, shared
 * and web; comments may speak of it). Source: the project's safety page.
 */
const NEVER: readonly RegExp[] = [
  /\bsafe(ly)?\b/i,
  /\bok to drive\b/i,
  /\bno fault\b(?! bit)/i,
  /\bno weld\b/i,
  /\bbridg(e|ing) (the |an? )?(interlock|inertia|isolation)/i,
  /\bclear(ing)? (the |a )?fault/i,
  /\b(raise|increase) the (limit|time-?out)/i,
  /\bre-?torque (the|a|this) joint\b/i,
]

/** "Do not re-torque a joint that was found hot" and the like forbid; they are wanted. */
const FORBIDS = /\b(do not|never|without)\b/i

const root = join(import.meta.dirname, '../..')

function texts(file: string): string[] {
  const source = readFileSync(file, 'utf8')
    .replace(/\/\*[\s\S]*?\*\//g, '')
    .replace(/(^|\s)\/\/.*$/gm, '')
  return [
    ...source.matchAll(/'((?:[^'\\\n]|\\.)*)'|`((?:[^`\\]|\\.)*)`|"((?:[^"\\\n]|\\.)*)"|>([^<>{}=]+)</g),
  ].map((match) => match[1] ?? match[2] ?? match[3] ?? match[4]!)
}

test('no text says what the log cannot know, or proposes what could hurt', () => {
  const found: string[] = []
  for (const folder of ['src', 'shared', 'web'])
    for (const entry of readdirSync(join(root, folder), { recursive: true, withFileTypes: true })) {
      if (!entry.isFile() || !/\.tsx?$/.test(entry.name)) continue
      const file = join(entry.parentPath, entry.name)
      for (const text of texts(file))
        for (const never of NEVER)
          if (never.test(text) && !FORBIDS.test(text))
            found.push(`${relative(root, file)}: ${text.trim().slice(0, 100)}`)
    }
  expect(found).toEqual([])
})

test('whoever says what to drive says where, with whom and until when', () => {
  const advice =
    /['`]([^'`\n]*\b(?:brake|drive|coast|accelerate|decelerat\w+|stops?)\b[^'`\n]*\b(?:from \d+ km\/h|until|a few|so that|(?:five|ten) (?:times|stops))\b[^'`\n]*)['`]/gi
  const found: string[] = []
  let through = 0
  for (const entry of readdirSync(join(root, 'src'), { recursive: true, withFileTypes: true })) {
    if (!entry.parentPath.endsWith('/questions') || !entry.name.endsWith('.ts')) continue
    const source = readFileSync(join(entry.parentPath, entry.name), 'utf8').replace(/\/\*[\s\S]*?\*\//g, '')
    for (const match of source.matchAll(advice))
      if (match[1]!.includes('keep away')) continue
      else if (source.slice(Math.max(0, match.index - 120), match.index).includes('toDrive(')) through++
      else found.push(`${entry.name}: ${match[1]}`)
  }
  expect(found).toEqual([])
  expect(through).toBeGreaterThan(5)
})

test('headlines and next steps are said as a fitter says them', () => {
  const found: string[] = []
  let read = 0
  for (const entry of readdirSync(join(root, 'src'), { recursive: true, withFileTypes: true })) {
    if (!entry.isFile() || !entry.name.endsWith('.ts')) continue
    const source = readFileSync(join(entry.parentPath, entry.name), 'utf8')
    for (const match of source.matchAll(
      /\b(?:headline|next_step):\s*(?:\n\s*)?(['`])((?:(?!\1)[^\\]|\\.)*)\1/g,
    )) {
      read++
      const words = match[2]!.replace(/\$\{[^}]*\}/g, '')
      if (LABORATORY.test(words)) found.push(`${entry.name}: ${words}`)
    }
  }
  expect(found).toEqual([])
  expect(read).toBeGreaterThan(60)
})

test('nor does the page say them', () => {
  // a figure's name may hold the exact term in brackets; JSON keys are no words
  const found = readdirSync(join(root, 'web'), { recursive: true, withFileTypes: true }).flatMap((entry) => {
    if (!entry.isFile() || !/\.tsx?$/.test(entry.name)) return []
    return texts(join(entry.parentPath, entry.name))
      .map((text) => text.replace(/\$\{[^}]*\}|\([^)]*\)/g, ''))
      .filter((text) => / \S+ /.test(text) && LABORATORY.test(text))
      .map((text) => `${entry.name}: ${text.trim().slice(0, 100)}`)
  })
  expect(found).toEqual([])
})
