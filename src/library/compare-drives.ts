import type { Comparison } from '../../shared/api.ts'
import type { Finding, Review } from '../../shared/review.ts'

const sameThing = (a: Finding, b: Finding) =>
  a.kind === b.kind && a.subject.index === b.subject.index && a.subject.name === b.subject.name

/** What changed between two drives of one car: findings gone, come and stayed, and the figures both have. */
export function compareDrives(before: Review, after: Review): Comparison {
  const match = (finding: Finding, others: readonly Finding[]) =>
    others.find((other) => sameThing(finding, other))
  return {
    figures: comparedFigures(before, after),
    gone: before.findings.filter((finding) => !match(finding, after.findings)),
    came: after.findings.filter((finding) => !match(finding, before.findings)),
    stayed: before.findings.flatMap((finding) => {
      const other = match(finding, after.findings)
      return other ? [{ before: finding, after: other }] : []
    }),
  }
}

function comparedFigures(before: Review, after: Review): Comparison['figures'] {
  const figures: Comparison['figures'] = []
  const add = (
    what: string,
    unit: string,
    a: number | null | undefined,
    b: number | null | undefined,
    aPm: number | null = null,
    bPm: number | null = null,
  ) => {
    if (a == null && b == null) return
    const change = a == null || b == null ? null : b - a
    const plusMinus = aPm === null || bPm === null ? null : Math.hypot(aPm, bPm)
    figures.push({
      what,
      unit,
      before: a ?? null,
      after: b ?? null,
      change,
      plus_minus: plusMinus,
      certain: change === null || plusMinus === null ? null : Math.abs(change) > plusMinus,
    })
  }
  const energy = (key: 'out_wh' | 'in_wh' | 'wh_per_km', what: string, unit: string) =>
    add(
      what,
      unit,
      before.energy[key],
      after.energy[key],
      before.energy[`${key}_plus_minus`],
      after.energy[`${key}_plus_minus`],
    )
  add('Distance', 'km', before.drive.distance_km, after.drive.distance_km)
  energy('out_wh', 'Energy out', 'Wh')
  energy('in_wh', 'Energy in', 'Wh')
  energy('wh_per_km', 'Energy per distance', 'Wh/km')
  const a = before.regen
  const b = after.regen
  add(
    'Regeneration starts',
    'bar',
    a?.start_bar,
    b?.start_bar,
    a?.start_bar_plus_minus,
    b?.start_bar_plus_minus,
  )
  add('Regeneration full', 'bar', a?.full_bar, b?.full_bar, a?.full_bar_plus_minus, b?.full_bar_plus_minus)
  add('Most regeneration', 'N·m', a?.max_nm, b?.max_nm, a?.max_nm_plus_minus, b?.max_nm_plus_minus)
  add(
    'Share recovered',
    '%',
    a?.share_percent,
    b?.share_percent,
    a?.share_percent_plus_minus,
    b?.share_percent_plus_minus,
  )
  for (const cell of after.cells) {
    const old = before.cells.find((each) => each.index === cell.index)
    if (!old) continue
    for (const [key, what, unit] of [
      ['joint_extra_mohm', 'joint, extra', 'mΩ'],
      ['resistance_mohm', 'resistance', 'mΩ'],
      ['rest_offset_mv', 'rest offset', 'mV'],
    ] as const)
      add(
        `Cell ${cell.index}, ${what}`,
        unit,
        old[key],
        cell[key],
        old[`${key}_plus_minus`],
        cell[`${key}_plus_minus`],
      )
  }
  return figures
}
