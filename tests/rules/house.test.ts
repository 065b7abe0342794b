import { expect, test } from 'vitest'
import { bareComparisons, functionLengths, sourceFiles, thinDocstrings } from '../house.ts'

test('every question says its model, what it reads and gives, what biases it, what it is blind to, its source', () => {
  expect(thinDocstrings()).toEqual([])
})

test('no file of src is longer than 400 lines, no comment than 130 characters', () => {
  const long = sourceFiles(['src'])
    .filter(({ lines }) => lines.length > 400)
    .map(({ path }) => path)
  const wide = sourceFiles(['src', 'shared']).flatMap(({ path, lines }) =>
    lines.flatMap((line, at) =>
      /^\s*(\*|\/\/|\/\*)/.test(line) && line.length > 130 ? [`${path}:${at + 1}`] : [],
    ),
  )
  expect(long).toEqual([])
  expect(wide).toEqual([])
})

test('long functions do not come back: at most 34 of src over 60 lines, 3 over 100', () => {
  const lengths = sourceFiles(['src']).flatMap(functionLengths)
  expect(lengths.filter(({ lines }) => lines > 100).length).toBeLessThanOrEqual(3)
  expect(lengths.filter(({ lines }) => lines > 60).length).toBeLessThanOrEqual(34)
})

// 487 by this rule when the issue asked for half; what is left are ends of digits and bytes, rounds of loops, formatting
test('a threshold that decides has a name and a reason: at most 243 comparisons of src with a bare number', () => {
  expect(bareComparisons().length).toBeLessThanOrEqual(243)
})
