import type { Finding } from '../../shared/review.ts'

export const RANK = { stop: 0, attention: 1, note: 2 } as const

/** Worst first; equals by onset, then kind and subject, so that the order never depends on luck. */
export function worstFirst(a: Finding, b: Finding): number {
  return (
    RANK[a.severity] - RANK[b.severity] ||
    (a.onset_s ?? 0) - (b.onset_s ?? 0) ||
    a.kind.localeCompare(b.kind, 'en') ||
    (a.subject.index ?? 0) - (b.subject.index ?? 0) ||
    a.id.localeCompare(b.id, 'en')
  )
}

/** The worst severity of a finding and of all that it explains: a cause is ranked by that, none is lowered. */
function rankOf(finding: Finding, all: readonly Finding[]): number {
  // a car that does not start comes first: nothing else can be tried before it does
  if (finding.kind === 'no-drive' && finding.severity === 'stop') return -1
  const beneath = all.filter((each) => each.explained_by === finding.id)
  return Math.min(RANK[finding.severity], ...beneath.map((each) => rankOf(each, all)))
}

/** Worst first, each finding followed by what it explains. */
export function inOrder(findings: readonly Finding[]): Finding[] {
  const sorted = [...findings].sort((a, b) => rankOf(a, findings) - rankOf(b, findings) || worstFirst(a, b))
  const withBeneath = (each: Finding): Finding[] => [
    each,
    ...sorted.filter((other) => other.explained_by === each.id).flatMap(withBeneath),
  ]
  return sorted.filter((each) => each.explained_by === null).flatMap(withBeneath)
}

/** Ids that are told apart: the second of two alike, in the order given, gets a number. */
export function withIds(findings: readonly Finding[]): Finding[] {
  const taken = new Set<string>()
  return findings.map((each) => {
    let id = each.id
    for (let n = 2; taken.has(id); n++) id = `${each.id}/${n}`
    taken.add(id)
    return id === each.id ? each : { ...each, id }
  })
}
