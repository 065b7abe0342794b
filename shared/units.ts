/** What a bare time is in; every other number says its unit in its name. */
type Seconds = number

/** A half-open stretch of drive time, in seconds: from (inclusive) to (exclusive). */
export type Span = readonly [from: Seconds, to: Seconds]

/** value_in_program_unit = value_as_logged · factor + offset */
export interface Conversion {
  readonly unit: string
  readonly factor: number
  readonly offset: number
}

type Rule = readonly [unit: string, factor?: number, offset?: number]

/** 5/9 and −160/9: °C = (°F − 32) · 5/9. */
const FAHRENHEIT: Rule = ['°C', 5 / 9, -160 / 9]
const KELVIN: Rule = ['°C', 1, -273.15]

/**
 * What a unit can become, by spelling: upper and lower case as written where that tells apart (mΩ, MΩ), else lower
 * case, always without blanks. Exact factors: NIST SP 811 appendix B (mile, psi, inch, pound-force), SI prefixes.
 */
const SPELLINGS: readonly (readonly [spellings: string, ...rules: Rule[]])[] = [
  ['v volt volts vdc', ['V']],
  ['mv millivolt millivolts', ['V', 1e-3]],
  ['dv decivolt decivolts', ['V', 0.1]],
  ['cv centivolt centivolts', ['V', 0.01]],
  ['kv', ['V', 1e3]],
  ['µv uv', ['V', 1e-6]],
  ['a amp amps ampere amperes adc', ['A']],
  ['ma milliamp milliamps', ['A', 1e-3]],
  ['da deciamp deciamps', ['A', 0.1]],
  ['ca centiamp centiamps', ['A', 0.01]],
  ['ka', ['A', 1e3]],
  ['w watt watts', ['W']],
  ['kw', ['W', 1e3]],
  ['°c degc deg.c celsius c cel gradc grad', ['°C']],
  ['d°c ddegc decidegc', ['°C', 0.1]],
  ['c°c cdegc centidegc', ['°C', 0.01]],
  ['°f degf deg.f fahrenheit f', FAHRENHEIT],
  ['k kelvin degk °k', KELVIN],
  ['bar bars barg', ['bar']],
  ['mbar hpa', ['bar', 1e-3]],
  ['kpa', ['bar', 0.01]],
  ['mpa', ['bar', 10]],
  ['pa', ['bar', 1e-5]],
  ['psi psig', ['bar', 0.06894757293168]],
  ['km/h kmh kph kmph km/hr kmh-1', ['km/h']],
  ['mph mi/h', ['km/h', 1.609344]],
  ['m/s mps', ['km/h', 3.6]],
  ['m/s² m/s2 m/s^2 ms-2 mps2', ['m/s²']],
  ['g gn', ['m/s²', 9.80665]],
  ['n·m nm n*m n-m n.m newtonmetre newtonmeter', ['N·m']],
  ['lbft lb-ft lbf·ft ftlb ft-lb ftlbf lb·ft', ['N·m', 1.3558179483314003]],
  [
    'rpm 1/min r/min min-1 min⁻¹ u/min tr/min rev/min giri/min rev./min r.p.m. omw/min varv/min o/min omdr/min obr/min rot/min',
    ['rpm'],
  ],
  ['krpm', ['rpm', 1e3]],
  ['rad/s', ['rpm', 30 / Math.PI]],
  ['1/s rps rev/s', ['rpm', 60]],
  ['kohm kohms kω', ['kΩ'], ['mΩ', 1e6], ['Ω', 1e3]],
  ['mOhm mohm mohms mΩ mω milliohm milliohms', ['mΩ'], ['kΩ', 1e-6], ['Ω', 1e-3]],
  ['MOhm Mohm MOHM MΩ Mω megohm megaohm Megohm megohms', ['kΩ', 1e3], ['mΩ', 1e9], ['Ω', 1e6]],
  ['ohm ohms ω', ['kΩ', 1e-3], ['mΩ', 1e3], ['Ω']],
  ['µohm uohm µω', ['mΩ', 1e-3]],
  ['gohm gω', ['kΩ', 1e6]],
  ['% percent pct prozent per-cent', ['%']],
  ['‰ permille', ['%', 0.1]],
  ['l/min lpm l/m', ['l/min']],
  ['l/h lph', ['l/min', 1 / 60]],
  ['l/s', ['l/min', 60]],
  ['ml/s', ['l/min', 0.06]],
  ['km kilometer kilometre kilometers kilometres', ['km']],
  ['mi mile miles', ['km', 1.609344]],
  // Not the program's, but no words either: an elevation in `(m)` is no torque.
  ['m metre metres meter meters', ['m']],
  ['cm', ['m', 0.01]],
  ['mm', ['m', 1e-3]],
  ['ft feet', ['m', 0.3048]],
  ['kg', ['kg']],
  ['hz', ['Hz']],
  ['khz', ['Hz', 1e3]],
  ['° deg degree degrees', ['°'], ['°C']],
  ['rad', ['°', 180 / Math.PI]],
  ['°/s deg/s', ['°/s']],
  ['l litre litres liter liters', ['l']],
  ['w/m² w/m2', ['W/m²']],
  ['dbm', ['dBm']],
  ['wh', ['Wh']],
  ['kwh', ['Wh', 1e3]],
  ['ah', ['Ah']],
  ['s sec secs second seconds', ['s']],
  ['ms msec millis millisecond milliseconds', ['s', 1e-3]],
  ['µs us usec micros microsecond microseconds', ['s', 1e-6]],
  ['ns nanoseconds', ['s', 1e-9]],
  ['min minutes', ['s', 60]],
  ['h hours', ['s', 3600]],
  ['counts count cnt raw lsb adc bits digits', ['counts']],
  ['bool 0/1 on/off flag enum state -', ['']],
]

const bySpelling = new Map<string, readonly Conversion[]>()
for (const [spellings, ...rules] of SPELLINGS)
  for (const spelling of spellings.split(' '))
    bySpelling.set(
      spelling,
      rules.map(([unit, factor = 1, offset = 0]) => ({ unit, factor, offset })),
    )

/** One spelling for look-alike signs, no blanks: `Ω` for the ohm sign, `µ` for both micro signs, `°C` for ℃. */
function plainSigns(text: string): string {
  return text
    .normalize('NFC')
    .replaceAll('\u2126', 'Ω')
    .replaceAll('μ', 'µ')
    .replaceAll('℃', '°C')
    .replaceAll('℉', '°F')
    .replaceAll('º', '°')
    .replaceAll('˚', '°')
    .replaceAll('⋅', '·')
    .replaceAll('∙', '·')
    .replace(/\s+/g, '')
}

/**
 * What a unit as written can become; best first, empty where it is not understood. `0.1V`, `0.001 V/bit` and
 * `10mV` are a unit with a step.
 */
export function conversionsOf(text: string): readonly Conversion[] {
  const plain = plainSigns(text)
  const found = bySpelling.get(plain) ?? bySpelling.get(plain.toLowerCase())
  if (found) return found
  const step = /^[*x×]?(0[.,]\d+|10+)[*x×]?(.+?)(?:\/(?:bit|lsb))?$/i.exec(plain)
  if (step) {
    const by = Number(step[1]!.replace(',', '.'))
    const base = bySpelling.get(step[2]!) ?? bySpelling.get(step[2]!.toLowerCase())
    if (base && by > 0)
      return base.map((each) => ({ unit: each.unit, factor: each.factor * by, offset: each.offset }))
  }
  return []
}

/** How a unit as written becomes `wanted`; null where it cannot. */
export function conversionTo(text: string, wanted: string): Conversion | null {
  return conversionsOf(text).find((each) => each.unit === wanted) ?? null
}

/** Is this text a unit at all? */
export function isUnit(text: string): boolean {
  return conversionsOf(text).length > 0
}

/** What is measured: two spellings of one quantity (mV, V) share it. Empty where the unit is not understood. */
export function quantityOf(text: string): string {
  return conversionsOf(text)[0]?.unit ?? ''
}

/**
 * One value converted. Divides where the factor is one over a whole number, so that 3998 mV is exactly 3.998 V.
 */
export function convert(value: number, by: Conversion): number {
  const under = 1 / by.factor
  if (by.factor < 1 && Math.abs(under - Math.round(under)) < 1e-9 * under)
    return value / Math.round(under) + by.offset
  return value * by.factor + by.offset
}

/** The same for a whole column, in place. */
export function convertAll(values: Float64Array, by: Conversion): void {
  const under = 1 / by.factor
  const whole = Math.round(under)
  if (by.factor < 1 && Math.abs(under - whole) < 1e-9 * under)
    for (let i = 0; i < values.length; i++) values[i] = values[i]! / whole + by.offset
  else for (let i = 0; i < values.length; i++) values[i] = values[i]! * by.factor + by.offset
}

/** Units whose capital letters mean something, for units written all in one case. */
const CAPITALS = new Map(
  ['mV', 'mA', 'kPa', 'MPa', 'kW', 'kOhm', 'MOhm', '°F', 'K'].map((unit) => [unit.toLowerCase(), unit]),
)

/** A conversion in words: `mV / 1000`, `°F · 0.5556 − 17.78`. */
export function conversionWords(written: string, by: Conversion): string {
  const from = written === 'mohm' ? written : (CAPITALS.get(written.toLowerCase()) ?? written)
  const under = Math.round(1 / by.factor)
  const scaled =
    by.factor === 1
      ? from
      : by.factor < 1 && Math.abs(1 / by.factor - under) < 1e-9 * under
        ? `${from} / ${under}`
        : `${from} · ${Number(by.factor.toPrecision(6))}`
  if (by.offset === 0) return scaled
  return `${scaled} ${by.offset < 0 ? '−' : '+'} ${Number(Math.abs(by.offset).toPrecision(6))}`
}
