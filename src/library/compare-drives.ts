import type { Comparison } from '../../shared/api.ts'
import type { Finding, Review } from '../../shared/review.ts'
import { cellGrowth, type PackGrowth } from '../history/cell-growth.ts'
import { compareRegen, type RegenComparison } from './compare-regen.ts'
import { growthWords } from './earlier-cells.ts'

const sameThing = (a: Finding, b: Finding) =>
  a.kind === b.kind && a.subject.index === b.subject.index && a.subject.name === b.subject.name

/** What changed between two drives of one car: findings gone, come and stayed, and the figures both have. */
export function compareDrives(before: Review, after: Review): Comparison {
  const match = (finding: Finding, others: readonly Finding[]) =>
    others.find((other) => sameThing(finding, other))
  const regen = compareRegen(before, after)
  const growth = cellGrowth(before, after)
  return {
    figures: comparedFigures(before, after, regen, growth),
    same_pressure: (regen?.samePressure ?? []).map(({ bar, before, after }) => ({
      bar,
      before_nm: before.regenNm,
      after_nm: after.regenNm,
      before_ms2: before.deceleration,
      after_ms2: after.deceleration,
    })),
    notes: [...(growth ? [growthWords(growth, 'the drive before')] : []), ...(regen?.notes ?? [])],
    gone: before.findings.filter((finding) => !match(finding, after.findings)),
    came: after.findings.filter((finding) => !match(finding, before.findings)),
    stayed: before.findings.flatMap((finding) => {
      const other = match(finding, after.findings)
      return other ? [{ before: finding, after: other }] : []
    }),
  }
}

function comparedFigures(
  before: Review,
  after: Review,
  regen: RegenComparison | null,
  growth: PackGrowth | null,
): Comparison['figures'] {
  return [
    ...energyFigures(before, after),
    ...(regen?.changes ?? []).map((row) => ({
      what: `Regeneration, ${row.what}`,
      unit: row.unit,
      before: row.before,
      after: row.after,
      change: row.difference,
      plus_minus: row.plusMinus,
      certain: row.changed,
    })),
    ...(growth ? growthFigures(growth) : []),
    ...cellFigures(before, after, growth !== null),
  ]
}

type Figure = Comparison['figures'][number]

/** A figure of both drives; none where neither has it. */
function both(
  what: string,
  unit: string,
  a: number | null | undefined,
  b: number | null | undefined,
  aPm: number | null = null,
  bPm: number | null = null,
): Figure[] {
  if (a == null && b == null) return []
  const change = a == null || b == null ? null : b - a
  const plusMinus = aPm === null || bPm === null ? null : Math.hypot(aPm, bPm)
  const certain = change === null || plusMinus === null ? null : Math.abs(change) > plusMinus
  return [{ what, unit, before: a ?? null, after: b ?? null, change, plus_minus: plusMinus, certain }]
}

function energyFigures(before: Review, after: Review): Figure[] {
  const energy = (key: 'out_wh' | 'in_wh' | 'wh_per_km', what: string, unit: string): Figure[] => {
    const error = `${key}_plus_minus` as const
    return both(what, unit, before.energy[key], after.energy[key], before.energy[error], after.energy[error])
  }
  return [
    ...both('Distance', 'km', before.drive.distance_km, after.drive.distance_km),
    ...energy('out_wh', 'Energy out', 'Wh'),
    ...energy('in_wh', 'Energy in', 'Wh'),
    ...energy('wh_per_km', 'Energy per distance', 'Wh/km'),
  ]
}

function growthFigures(growth: PackGrowth): Figure[] {
  return [
    ...both('Typical cell, resistance', 'mΩ', ...growth.typicalMohm),
    ...growth.cells.map((each) => ({
      what: `Cell ${each.cell}, gained (joint or cell; peers’ change taken out)`,
      unit: 'mΩ',
      before: null,
      after: null,
      change: each.changeMohm,
      plus_minus: each.plusMinus,
      certain: each.certain,
    })),
  ]
}

/** @param grown growth is told: then the resistance of every cell says only how warm the pack was */
function cellFigures(before: Review, after: Review, grown: boolean): Figure[] {
  const rows = [
    ['joint_extra_mohm', 'joint, extra', 'mΩ'],
    ...(grown ? [] : [['resistance_mohm', 'resistance', 'mΩ'] as const]),
    ['rest_offset_mv', 'rest offset', 'mV'],
  ] as const
  return after.cells.flatMap((cell) => {
    const old = before.cells.find((each) => each.index === cell.index)
    if (!old) return []
    return rows.flatMap(([key, what, unit]) => {
      const error = `${key}_plus_minus` as const
      return both(`Cell ${cell.index}, ${what}`, unit, old[key], cell[key], old[error], cell[error])
    })
  })
}
