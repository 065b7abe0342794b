import { catalogueEntry } from '../../shared/channels.ts'
import type { RawSeries } from '../../shared/raw-log.ts'
import { conversionsOf } from '../../shared/units.ts'
import type { Spread } from './choose-unit.ts'
import { chooseUnit, isBelievable, spreadOf } from './choose-unit.ts'

/** Enough to tell a switch or a state from a reading. */
const MOST_SEEN = 20
/** A switch in words: on, off, error, not available. */
const MOST_WORDS = 4
/** Two-bit switch states: 0 off, 1 on, 2 error, 3 not available. Source: SAE J1939-71, from memory. */
const MOST_CODE = 3
/** A coil's duty in a byte. */
const MOST_DUTY = 255
/** A selector has no more positions. */
const MOST_POSITIONS = 8

/** What naming looks at in a column's values. */
export interface ColumnValues {
  readonly spread: Spread
  readonly low: number
  readonly high: number
  /** Different values, up to 20. */
  readonly distinct: number
  readonly whole: boolean
  readonly text: boolean
  readonly samples: number
}

export function columnValues(series: RawSeries): ColumnValues {
  const { values } = series
  const seen = new Set<number>()
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  let whole = true
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!
    if (Number.isNaN(value)) continue
    if (value < low) low = value
    if (value > high) high = value
    if (whole && !Number.isInteger(value)) whole = false
    if (seen.size < MOST_SEEN) seen.add(value)
  }
  return {
    spread: spreadOf(values),
    low,
    high,
    distinct: seen.size,
    whole,
    text: series.labels !== null,
    samples: values.length,
  }
}

const CONTACTOR = /^contactor_/

/**
 * How well values and unit fit a channel: 0 never … 1 nothing speaks against it.
 * @param unit as written, null where none is
 */
export function valuesFit(id: string, unit: string | null, about: ColumnValues): number {
  const entry = catalogueEntry(id) ?? catalogueEntry(`${id}.1`)
  if (!entry) return 0
  if (!unitFits(id, entry.unit, entry.kind, unit)) return 0
  const { spread, low, high, distinct, whole, text } = about
  if (entry.kind === 'switch') {
    if (text) return distinct <= MOST_WORDS ? 1 : 0
    if (distinct === 0) return 0.8
    if (whole && low >= 0 && high <= MOST_CODE) return 1
    // Two values are a switch where the lower one is nothing: 0 and 12 V, 0 and 255; 21.0 and 21.5 are a reading.
    if (distinct === 1 || (distinct === 2 && Math.abs(low) <= 1)) return 1
    if (CONTACTOR.test(id) || id === 'coolant_pump') return low >= 0 && high <= MOST_DUTY ? 0.9 : 0
    return 0
  }
  if (entry.kind === 'code') {
    if (text) return 1
    if (id === 'selector') return whole && distinct <= MOST_POSITIONS ? 1 : 0
    return whole ? 1 : 0.1
  }
  if (text) return 0
  if (distinct === 0) return 0.8
  const chosen = chooseUnit(id, unit, spread)
  const fits = isBelievable(id, unit, chosen, spread)
  // A quantity that steps between nought and one only is a switch, whatever its name.
  const asSwitch = distinct === 2 && low === 0 && high === 1 && !/_limit$|_number$/.test(id)
  // One value throughout says little: zero, or any value with its unit stated, speaks neither for nor against.
  // 12.5 V throughout, though, is no pack: what is far below it speaks against the name.
  const farBelow = id === 'pack_voltage' && !fits && high > 0
  const still =
    distinct === 1 && !farBelow && (high === 0 || unit !== null)
      ? 0.9
      : distinct === 1 && !farBelow
        ? 0.5
        : 0.15
  return (fits ? 1 : still) * (asSwitch ? 0.2 : 1)
}

function unitFits(id: string, wanted: string, kind: string, unit: string | null): boolean {
  if (!unit) return true
  const known = conversionsOf(unit)
  if (known.length === 0 || known.some((each) => each.unit === wanted || each.unit === '')) return true
  const quantity = known[0]!.unit
  if (/^pedal_track/.test(id)) return quantity === '%' || quantity === 'counts' || quantity === 'V'
  if (kind === 'switch') return quantity === '%' && (CONTACTOR.test(id) || id === 'coolant_pump')
  return kind === 'code' ? quantity === 'counts' : false
}
