import { catalogueEntry } from '../../shared/channels.ts'
import { type Conversion, conversionsOf, conversionWords, convert } from '../../shared/units.ts'
import { quantiles } from '../math/stats.ts'

/** How a channel's values become the program's unit, and the sentence for `channels[].conversion`. */
export interface ChosenUnit {
  /** Unit afterwards: the catalogue's, or the column's own where nothing converts it. */
  readonly unit: string
  /** null: values stay as they are. */
  readonly by: Conversion | null
  readonly words: string
}

/** Where the middle and the extremes of a channel lie; as logged. */
export interface Spread {
  readonly low: number
  readonly middle: number
  readonly high: number
  /** Written in steps under 0.1. */
  readonly fine: boolean
}

/** 1st, 50th and 99th percentile of up to 4000 evenly taken samples: sentinels do not move it. */
export function spreadOf(values: ArrayLike<number>): Spread {
  const stride = Math.max(1, Math.floor(values.length / 4000))
  const some = new Float64Array(Math.ceil(values.length / stride))
  for (let i = 0; i < some.length; i++) some[i] = values[i * stride]!
  const [low, middle, high] = quantiles(some, [0.01, 0.5, 0.99]) as [number, number, number]
  return {
    low,
    middle,
    high,
    fine: some.some((value) => Math.abs(value * 10 - Math.round(value * 10)) > 1e-6),
  }
}

const times = (unit: string, factor: number, from: string): Guess => ({ unit, factor, offset: 0, from })

interface Guess extends Conversion {
  readonly from: string
}

interface Habit {
  /** Does a spread, in the program's unit, look like this quantity in a road car? */
  readonly believable: (spread: Spread) => boolean
  /** Tried in order after "as it is". */
  readonly guesses: readonly Guess[]
}

/** What a road car's quantities read, each in the program's unit; all of it common practice, no source. */
const COLDEST_C = -60
const HOTTEST_C = 200
/** An isolation reading in whole kΩ is believed from here on. */
const WHOLE_KOHM = 20
const MOST_KOHM = 200_000
/** A share of 1, a little over its top; and percent, with a pedal's over-travel. */
const MOST_SHARE = 1.5
const MOST_PERCENT = 110
/** A power that never passes it in watts is in kilowatts. */
const LEAST_W = 1500
/** A pedal track as a share of its travel, a little over both ends; and in volts of a 5 V supply. */
const TRACK_LEAST_SHARE = -0.05
const TRACK_MOST_SHARE = 1.05
const TRACK_MOST_V = 5.6

const between =
  (of: 'middle' | 'high', low: number, high: number) =>
  (spread: Spread): boolean =>
    spread[of] > low && spread[of] < high
const under =
  (most: number) =>
  ({ high }: Spread): boolean =>
    high < most
const upTo =
  (most: number) =>
  ({ high }: Spread): boolean =>
    high <= most
const eitherWayUnder =
  (most: number) =>
  ({ low, high }: Spread): boolean =>
    Math.max(-low, high) < most

const TEMPERATURE: Habit = {
  believable: ({ low, high }) => low >= COLDEST_C && high <= HOTTEST_C,
  guesses: [
    { unit: '°C', factor: 1, offset: -273.15, from: 'K' },
    times('°C', 0.1, '0.1 °C'),
    times('°C', 0.01, '0.01 °C'),
  ],
}

/**
 * What each quantity usually reads in a converted road car: common practice, no source. Wide on purpose: it only
 * has to tell powers of ten apart.
 */
const HABITS: Readonly<Record<string, Habit>> = {
  cell_voltage: {
    believable: between('middle', 1.2, 5.2),
    guesses: [times('V', 1e-3, 'mV'), times('V', 1e-4, '0.1 mV'), times('V', 0.01, '0.01 V')],
  },
  pack_voltage: {
    believable: between('high', 20, 1100),
    guesses: [times('V', 0.1, '0.1 V'), times('V', 0.01, '0.01 V'), times('V', 1e-3, 'mV')],
  },
  link_voltage: {
    believable: under(1100),
    guesses: [times('V', 0.1, '0.1 V'), times('V', 0.01, '0.01 V'), times('V', 1e-3, 'mV')],
  },
  lv_voltage: {
    believable: between('middle', 0.3, 35),
    guesses: [times('V', 1e-3, 'mV'), times('V', 0.1, '0.1 V'), times('V', 0.01, '0.01 V')],
  },
  current: {
    believable: eitherWayUnder(2500),
    guesses: [times('A', 0.1, '0.1 A'), times('A', 0.01, '0.01 A'), times('A', 1e-3, 'mA')],
  },
  isolation_resistance: {
    // 15 without a unit is 15 kΩ, a fault; 15.32 is MΩ.
    believable: ({ high, fine }) => (high >= WHOLE_KOHM || !fine) && high <= MOST_KOHM,
    guesses: [times('kΩ', 1e3, 'MΩ'), times('kΩ', 1e-3, 'Ω')],
  },
  pressure: {
    believable: upTo(250),
    guesses: [times('bar', 0.01, 'kPa'), times('bar', 1e-3, 'mbar'), times('bar', 1e-5, 'Pa')],
  },
  percent: {
    believable: ({ high }) => high === 0 || (high > MOST_SHARE && high <= MOST_PERCENT),
    guesses: [times('%', 100, 'share of 1'), times('%', 0.1, '0.1 %'), times('%', 0.01, '0.01 %')],
  },
  pedal_supply: {
    believable: between('middle', 2, 16),
    guesses: [times('V', 1e-3, 'mV')],
  },
  speed: {
    believable: under(330),
    guesses: [times('km/h', 0.1, '0.1 km/h'), times('km/h', 0.01, '0.01 km/h')],
  },
  torque: {
    believable: eitherWayUnder(2500),
    guesses: [times('N·m', 0.1, '0.1 N·m')],
  },
  motor_speed: { believable: under(25_000), guesses: [] },
  resistance: {
    believable: between('middle', 0.05, 60),
    guesses: [times('mΩ', 1e-3, 'µΩ'), times('mΩ', 0.01, '0.01 mΩ'), times('mΩ', 1e3, 'Ω')],
  },
  power: { believable: ({ low, high }) => Math.max(-low, high) > LEAST_W, guesses: [times('W', 1e3, 'kW')] },
}

function habitOf(id: string): Habit | null {
  const base = id.replace(/\.\d+$/, '')
  if (/^(cell|lowest_cell|highest_cell|mean_cell)_voltage$/.test(base)) return HABITS.cell_voltage!
  if (base === 'pack_voltage' || base === 'box_voltage') return HABITS.pack_voltage!
  if (base === 'charger_voltage' || base === 'mains_voltage' || base === 'charge_voltage_request')
    return HABITS.link_voltage!
  if (/_temperature$|^coolant_(in|out)$/.test(base)) return TEMPERATURE
  if (/_current(_request)?$|_limit$/.test(base)) return HABITS.current!
  if (/^brake_pressure/.test(base)) return HABITS.pressure!
  if (/^(soc|pedal_position|brake_travel)$|_duty$/.test(base)) return HABITS.percent!
  if (/^pedal_supply/.test(base)) return HABITS.pedal_supply!
  if (/speed$/.test(base) && base !== 'motor_speed') return HABITS.speed!
  if (/^torque/.test(base)) return HABITS.torque!
  if (base === 'cell_resistance_reported') return HABITS.resistance!
  if (base === 'pack_power') return HABITS.power!
  return HABITS[base] ?? null
}

const converted = (spread: Spread, by: Conversion): Spread => {
  const [a, b] = [convert(spread.low, by), convert(spread.high, by)]
  return {
    low: Math.min(a, b),
    middle: convert(spread.middle, by),
    high: Math.max(a, b),
    fine: spread.fine || by.factor < 1,
  }
}

/** Are values, converted as chosen, what this channel usually reads, and inside the catalogue's range? */
export function isBelievable(id: string, stated: string | null, chosen: ChosenUnit, spread: Spread): boolean {
  const entry = catalogueEntry(id)
  if (!entry || Number.isNaN(spread.middle)) return true
  const inside = chosen.by ? converted(spread, chosen.by) : spread
  if (chosen.unit !== entry.unit) return /^pedal_track/.test(id)
  if (inside.middle < entry.range[0] || inside.middle > entry.range[1]) return false
  // A hard insulation fault reads next to nothing: with its unit stated it keeps its name.
  if (id === 'isolation_resistance' && stated) return true
  return habitOf(id)?.believable(inside) ?? true
}

/**
 * Decides the conversion of one channel, or of channels alike together (all cells share one decision: pass the
 * spread of their medians), from its stated unit, else from its values.
 *
 * A stated unit stands unless its values are not believable and another reading of the same letters (mΩ for MΩ) is.
 * @param stated unit as written, null where none is
 * @param spread of the values as logged
 */
export function chooseUnit(id: string, stated: string | null, spread: Spread): ChosenUnit {
  const entry = catalogueEntry(id)
  if (entry?.kind !== 'number') return { unit: entry ? '' : (stated ?? ''), by: null, words: 'none' }
  if (/^pedal_track/.test(id)) return pedalUnit(stated, spread)
  const habit = habitOf(id)
  const believable = (by: Conversion): boolean => habit === null || habit.believable(converted(spread, by))
  const asIs: Conversion = { unit: entry.unit, factor: 1, offset: 0 }
  const words = (from: string, by: Conversion): string =>
    by.factor === 1 && by.offset === 0 ? 'none' : conversionWords(from, by)
  if (stated) {
    const understood = conversionsOf(stated)
    const fits = understood.find((each) => each.unit === entry.unit)
    // Of all spellings only m and M before the ohm are mixed up in practice: a stated kΩ stays kΩ, however low.
    const other =
      fits && !believable(fits)
        ? conversionsOf(otherCase(stated)).find((each) => each.unit === entry.unit && believable(each))
        : undefined
    if (other)
      return {
        unit: entry.unit,
        by: other,
        words: `${words(otherCase(stated), other)} (written ${stated}; only so are the values believable)`,
      }
    if (fits) return { unit: entry.unit, by: fits, words: words(stated, fits) }
    if (understood.length > 0 && understood[0]!.unit !== 'counts' && understood[0]!.unit !== '')
      return { unit: stated, by: null, words: `none (${stated} does not become ${entry.unit})` }
  }
  if (Number.isNaN(spread.middle)) return { unit: entry.unit, by: null, words: 'none (no values)' }
  if (believable(asIs))
    return {
      unit: entry.unit,
      by: null,
      words: entry.unit === '' ? 'none' : `none (unit not stated; ${entry.unit} fits the values)`,
    }
  const guess = habit?.guesses.find(believable)
  if (guess)
    return {
      unit: entry.unit,
      by: guess,
      words: `${conversionWords(guess.from, guess)} (unit not stated; ${guess.from} fits the values)`,
    }
  return { unit: entry.unit, by: null, words: `none (unit not stated; ${entry.unit} assumed)` }
}

/** `mOhm` ↔ `MOhm`; any other unit has no second reading. */
function otherCase(unit: string): string {
  if (!/^m(ohm|Ω|ω)/i.test(unit)) return ''
  return (unit[0] === 'm' ? 'M' : 'm') + unit.slice(1)
}

/** Pedal tracks may be V, % or counts: analyses learn the end points, so counts stay counts. */
function pedalUnit(stated: string | null, spread: Spread): ChosenUnit {
  for (const wanted of ['V', '%', 'counts']) {
    const by = stated ? conversionsOf(stated).find((each) => each.unit === wanted) : undefined
    if (by) return { unit: wanted, by, words: by.factor === 1 ? 'none' : conversionWords(stated!, by) }
  }
  const { low, high } = spread
  if (Number.isNaN(high)) return { unit: 'V', by: null, words: 'none (no values)' }
  if (high <= TRACK_MOST_SHARE && low >= TRACK_LEAST_SHARE)
    return {
      unit: '%',
      by: { unit: '%', factor: 100, offset: 0 },
      words: 'share of 1 · 100 (unit not stated)',
    }
  if (high <= TRACK_MOST_V) return { unit: 'V', by: null, words: 'none (unit not stated; V fits the values)' }
  if (high <= MOST_PERCENT) return { unit: '%', by: null, words: 'none (unit not stated; % fits the values)' }
  return { unit: 'counts', by: null, words: 'none (unit not stated; counts)' }
}
