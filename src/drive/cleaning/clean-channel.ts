import { catalogueEntry } from '../../../shared/channels.ts'
import type { Skipped } from '../../../shared/drive.ts'
import { conversionWords, convert, convertAll } from '../../../shared/units.ts'
import { median } from '../../math/stats.ts'
import { type ChosenUnit, chooseUnit, type Spread, spreadOf } from '../../naming/choose-unit.ts'
import type { Named } from '../../naming/name-series.ts'
import { dropThermalJumps } from './thermal-jumps.ts'
import { dropUnbelievable } from './unbelievable.ts'

/** Fewer cells are no pack to compare a voltage with; no source. */
const FEWEST_CELLS = 4
/** Cells and pack of one size, other cells of the string not logged; no source. */
const SAME_SHARE = 0.15

/** A named series in the program's unit, unbelievable readings NaN. */
export interface Cleaned extends Named {
  readonly unit: string
  readonly conversion: string
  readonly skipped: readonly Skipped[]
}

/**
 * Units, words and placeholders of all series of one log. Changes the series' value arrays in place: the log is used
 * up. Channels of one family (all cells, both tracks of a pedal) written in one unit share one decision.
 */
export function cleanSeries(all: readonly Named[]): Cleaned[] {
  const families = new Map<string, Named[]>()
  const familyOf = (named: Named): string =>
    /\.\d+$|^pedal_track_/.test(named.id)
      ? `${named.id.replace(/[._]\d+$/, '')}|${named.series.unit ?? ''}`
      : `${named.id}|`
  for (const named of all) {
    const family = families.get(familyOf(named))
    if (family) family.push(named)
    else families.set(familyOf(named), [named])
  }
  const chosen = new Map<Named, ChosenUnit>()
  let packV = Number.NaN
  for (const members of families.values()) {
    const [first] = members as [Named]
    const spread = familySpread(members)
    const unit = chooseUnit(first.id, first.series.unit, spread)
    for (const member of members) chosen.set(member, unit)
    if (/^cell_voltage\./.test(first.id) && members.length >= FEWEST_CELLS && unit.unit === 'V')
      packV = (unit.by ? convert(spread.middle, unit.by) : spread.middle) * members.length
  }
  return all.map((named) => clean(named, bySumOfCells(named, packV) ?? chosen.get(named)!))
}

/** A pack's or link's voltage without a unit, in the step that makes it the sum of its cells; null where none does. */
function bySumOfCells({ id, series }: Named, packV: number): ChosenUnit | null {
  if (series.unit !== null || (id !== 'pack_voltage' && id !== 'link_voltage')) return null
  const { high } = spreadOf(series.values)
  for (const [from, factor] of [
    ['V', 1],
    ['0.1 V', 0.1],
    ['0.01 V', 0.01],
    ['mV', 1e-3],
  ] as const)
    if (Math.abs((high * factor) / packV - 1) < SAME_SHARE) {
      const by = { unit: 'V', factor, offset: 0 }
      const words = factor === 1 ? 'none' : conversionWords(from, by)
      return {
        unit: 'V',
        by: factor === 1 ? null : by,
        words: `${words} (unit not stated; so it is the sum of the cells)`,
      }
    }
  return null
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
    : [
        ...dropUnbelievable(entry, named.id, series.timeS, values, chosen.by?.factor ?? 1),
        ...(/^(module_temperature\.|coolant_(in|out)$)/.test(named.id)
          ? dropThermalJumps(named.id, series.timeS, values)
          : []),
      ]
  return { ...named, unit: chosen.unit, conversion: chosen.words, skipped }
}
