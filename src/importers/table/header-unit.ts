import { isUnit, quantityOf } from '../../../shared/units.ts'

/** Short endings that are as often a word as a unit (`box_c`, `phase_a`, `dc_v`): only after a name that asks for it. */
const SHORT = /^[a-z]$/i

/** Units that end a name as plain words: `temp_min`, `vitesse_roue_rad`, `power_meter`. */
const WORDS_TOO =
  /^(min|state|flag|raw|count|counts|adc|h|on\/off|grad|enum|deg|degrees?|rad|met(er|re)s?|feet|mi|bits|digits)$/i

/**
 * The unit in a header: `Cell 1 [mV]`, `Pressure (bar)`, `t_mod_degC`, `Cell 1, V`, `Cell 1 in V`, `Speed km/h`,
 * `packVoltage_V`. null where the name carries none.
 */
export function headerUnit(name: string): string | null {
  const bracket =
    /[[({<]\s*([^\])}>]*?)\s*[\])}>]\s*$/.exec(name) ?? /[[({<]\s*([^\])}>]*?)\s*[\])}>]/.exec(name)
  if (bracket && isUnit(bracket[1]!)) return bracket[1]!
  const after = /(?:,|;|\bin\b|\s\/)\s*([^\s,;]+)\s*$/.exec(name)
  if (after && isUnit(after[1]!) && !/^\d/.test(after[1]!)) return after[1]!
  const last = /(?:^|[\s_.\-:])([^\s_.\-:]+)$/.exec(name)
  if (last && last.index > 0) {
    const word = last[1]!
    // Two-part endings first: `km/h`, `m/s2`, `deg_c`.
    const two = /[\s_.\-:](deg|km|m|mi|1)[\s_./-]?(c|f|h|hr|s|s2|min)$/i.exec(name)
    if (two) {
      const joined = two[1]!.toLowerCase() === 'deg' ? `deg${two[2]}` : `${two[1]}/${two[2]}`
      if (isUnit(joined)) return joined
    }
    if (!SHORT.test(word) && !/^\d/.test(word)) return isUnit(word) && !WORDS_TOO.test(word) ? word : null
    if (/^[vaw]$/i.test(word)) return shortElectric(name, word)
    if (/^[ck]$/.test(word.toLowerCase()) && /temp|water|wasser|cool|kühl|(^|[\s_.])t[\s_.]/i.test(name))
      return word
    if (word === 's' && quantityOf(word) === 's') return word
  }
  const camel =
    /[a-z](mV|kPa|MPa|mA|degC|Nm|Kmh|KmH|KMH|Kph|KPH|Kmph|MPH|Mph|Rpm|RPM|Percent|Pct|Volts|Amps|Ohms?|kOhm|MOhm)$/.exec(
      name,
    )
  if (camel && isUnit(camel[1]!)) return camel[1]!
  return null
}

/** `pack_v`, `pack_i_a`, `trk1 V`: V, A and W after a name of what carries them. */
function shortElectric(name: string, word: string): string | null {
  if (
    /(phase|box|bank|string|group|track|channel|ch|sensor|plate|side|bus)[\s_.-][vaw]$/i.test(name) &&
    word !== 'V'
  )
    return null
  return word.toUpperCase()
}

/**
 * `motor_temp_f` is °F, unless a sister `motor_temp_r` makes F and R front and rear.
 * @param all names of the log
 */
export function fahrenheitByEnding(name: string, all: readonly string[]): boolean {
  const stem = /^(.*temp.*[\s_.-])f$/i.exec(name)?.[1]?.toLowerCase()
  return stem !== undefined && !all.some((other) => other.toLowerCase() === `${stem}r`)
}
