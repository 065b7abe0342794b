import type { Finding } from '../../shared/review.ts'

/** A finding, its place in the review's list, and what it explains. */
export interface Branch {
  readonly finding: Finding
  readonly at: number
  readonly beneath: readonly Branch[]
}

/** Findings in the review's order (the worst first), each with what it explains beneath it; notes apart. */
export function findingTree(findings: readonly Finding[]): { loud: Branch[]; notes: Branch[] } {
  const known = new Set(findings.map(({ id }) => id))
  const all = findings.map((finding, at) => ({ finding, at }))
  const branch = ({ finding, at }: { finding: Finding; at: number }, seen: readonly string[]): Branch => ({
    finding,
    at,
    beneath: all
      .filter((other) => other.finding.explained_by === finding.id && !seen.includes(other.finding.id))
      .map((other) => branch(other, [...seen, finding.id])),
  })
  const roots: Branch[] = all
    .filter(({ finding }) => finding.explained_by === null || !known.has(finding.explained_by))
    .map((each) => branch(each, []))
  // Causes that name each other in a circle would stand nowhere: nothing found is lost.
  const placed = (branches: readonly Branch[]): number[] =>
    branches.flatMap(({ at, beneath }) => [at, ...placed(beneath)])
  for (const each of all) if (!placed(roots).includes(each.at)) roots.push(branch(each, []))
  const isLoud = ({ finding, beneath }: Branch): boolean =>
    finding.severity !== 'note' || beneath.some(isLoud)
  return { loud: roots.filter(isLoud), notes: roots.filter((each) => !isLoud(each)) }
}
