import { catalogueEntry } from '../../shared/channels.ts'
import type { Skipped } from '../../shared/drive.ts'
import { convertAll } from '../../shared/units.ts'
import { median } from '../math/stats.ts'
import type { Named } from '../naming/name-series.ts'
import { type ChosenUnit, chooseUnit, type Spread, spreadOf } from './choose-unit.ts'
import { dropUnbelievable } from './unbelievable.ts'

/** A named series in the program's unit, unbelievable readings NaN. */
export interface Cleaned extends Named {
  readonly unit: string
  readonly conversion: string
  readonly skipped: readonly Skipped[]
}

/**
 * Units, words and placeholders of all series of one log. Changes the series' value arrays in place: the log is used
 * up. Channels of one family (all cells) written in one unit share one decision.
 */
export function cleanSeries(all: readonly Named[]): Cleaned[] {
  const families = new Map<string, { members: Named[]; chosen: ChosenUnit | null }>()
  const familyOf = (named: Named): string =>
    /\.\d+$/.test(named.id) ? `${named.id.replace(/\.\d+$/, '')}|${named.series.unit ?? ''}` : `${named.id}|`
  for (const named of all) {
    const family = families.get(familyOf(named))
    if (family) family.members.push(named)
    else families.set(familyOf(named), { members: [named], chosen: null })
  }
  return all.map((named) => {
    const family = families.get(familyOf(named))!
    family.chosen ??= chooseUnit(named.id, named.series.unit, familySpread(family.members))
    return clean(named, family.chosen)
  })
}

function familySpread(members: readonly Named[]): Spread {
  const spreads = members.map((each) => spreadOf(each.series.values))
  if (spreads.length === 1) return spreads[0]!
  return {
    low: median(spreads.map((each) => each.low)),
    middle: median(spreads.map((each) => each.middle)),
    high: median(spreads.map((each) => each.high)),
    fine: spreads.some((each) => each.fine),
  }
}

function clean(named: Named, chosen: ChosenUnit): Cleaned {
  const entry = catalogueEntry(named.id)
  const { series } = named
  const { values } = series
  if (!entry) return { ...named, unit: series.unit ?? '', conversion: 'none', skipped: [] }
  // Switches, selectors and text: conditioning decides what their levels mean.
  if (series.labels || entry.kind !== 'number') return { ...named, unit: '', conversion: 'none', skipped: [] }
  if (chosen.by) convertAll(values, chosen.by)
  const foreign = chosen.unit !== entry.unit
  const skipped = foreign
    ? []
    : dropUnbelievable(entry, named.id, series.timeS, values, chosen.by?.factor ?? 1)
  return { ...named, unit: chosen.unit, conversion: chosen.words, skipped }
}
