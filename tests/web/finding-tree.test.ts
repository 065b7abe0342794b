import { expect, it } from 'vitest'
import type { Finding } from '../../shared/review.ts'
import { findingTree } from '../../web/views/finding-tree.ts'

/** The contract: what a finding explains is listed beneath it; a cause is ranked by the worst that it explains. */
const of = (id: string, severity: Finding['severity'], explained_by: string | null = null) =>
  ({ id, severity, explained_by }) as Finding

const shape = (findings: readonly Finding[]) => {
  const names = ({ finding, beneath }: ReturnType<typeof findingTree>['loud'][number]): string =>
    beneath.length === 0 ? finding.id : `${finding.id}(${beneath.map(names).join(' ')})`
  const { loud, notes } = findingTree(findings)
  return [loud.map(names).join(' '), notes.map(names).join(' ')]
}

it('puts what is explained beneath its cause, and loses none', () => {
  expect(
    shape([
      of('joint', 'attention'),
      of('limit', 'stop', 'joint'),
      of('hot', 'attention', 'limit'),
      of('gap', 'note'),
    ]),
  ).toEqual(['joint(limit(hot))', 'gap'])
})

it('keeps a note in sight that explains a stop, and what names a cause that is not there', () => {
  expect(
    shape([of('low 12 V', 'note'), of('silent', 'stop', 'low 12 V'), of('lamp', 'attention', 'gone')]),
  ).toEqual(['low 12 V(silent) lamp', ''])
})

it('places every finding once, at its place in the review', () => {
  const findings = [of('a', 'stop'), of('b', 'note', 'a'), of('c', 'attention')]
  const all = (branches: ReturnType<typeof findingTree>['loud']): number[] =>
    branches.flatMap(({ at, beneath }) => [at, ...all([...beneath])])
  const { loud, notes } = findingTree(findings)
  expect([...all(loud), ...all(notes)].sort()).toEqual([0, 1, 2])
})

it('loses nothing where two name each other as the cause', () => {
  expect(shape([of('a', 'stop', 'b'), of('b', 'attention', 'a')])).toEqual(['a(b)', ''])
})
