/** Unit aliases: every bare number in the program says its unit through one of these or a name suffix. */
export type Seconds = number
export type Volts = number
export type Amperes = number
export type Celsius = number
export type Milliohms = number
export type NewtonMetres = number
export type Bar = number
export type KilometresPerHour = number
export type WattHours = number

/** A half-open stretch of drive time, in seconds: from (inclusive) to (exclusive). */
export type Span = readonly [from: Seconds, to: Seconds]

/** value_in_program_unit = value_as_logged · factor + offset */
export interface Conversion {
  readonly unit: string
  readonly factor: number
  readonly offset: number
}

const same = (unit: string): Conversion => ({ unit, factor: 1, offset: 0 })
const times = (unit: string, factor: number): Conversion => ({ unit, factor, offset: 0 })

/**
 * Every unit spelling that is understood, lower case without blanks, and how it becomes the program's unit.
 * Exact factors: NIST SP 811 appendix B (mile, psi, inch), SI prefixes.
 */
export const UNITS: Readonly<Record<string, Conversion>> = {
  v: same('V'),
  volt: same('V'),
  volts: same('V'),
  mv: times('V', 1e-3),
  kv: times('V', 1e3),
  a: same('A'),
  amp: same('A'),
  amps: same('A'),
  ma: times('A', 1e-3),
  w: same('W'),
  kw: times('W', 1e3),
  '°c': same('°C'),
  degc: same('°C'),
  celsius: same('°C'),
  c: same('°C'),
  '°f': { unit: '°C', factor: 5 / 9, offset: -160 / 9 },
  degf: { unit: '°C', factor: 5 / 9, offset: -160 / 9 },
  k: { unit: '°C', factor: 1, offset: -273.15 },
  kelvin: { unit: '°C', factor: 1, offset: -273.15 },
  bar: same('bar'),
  mbar: times('bar', 1e-3),
  kpa: times('bar', 0.01),
  mpa: times('bar', 10),
  pa: times('bar', 1e-5),
  psi: times('bar', 0.06894757293168),
  'km/h': same('km/h'),
  kmh: same('km/h'),
  kph: same('km/h'),
  mph: times('km/h', 1.609344),
  'm/s': times('km/h', 3.6),
  'm/s²': same('m/s²'),
  'm/s2': same('m/s²'),
  'm/s^2': same('m/s²'),
  g: times('m/s²', 9.80665),
  nm: same('N·m'),
  n·m: same('N·m'),
  'n*m': same('N·m'),
  rpm: same('rpm'),
  '1/min': same('rpm'),
  'r/min': same('rpm'),
  kohm: same('kΩ'),
  kω: same('kΩ'),
  mohm: times('mΩ', 1),
  mω: times('mΩ', 1),
  megohm: times('kΩ', 1e3),
  ohm: times('kΩ', 1e-3),
  ω: times('kΩ', 1e-3),
  '%': same('%'),
  percent: same('%'),
  pct: same('%'),
  wh: same('Wh'),
  kwh: times('Wh', 1e3),
  s: same('s'),
  sec: same('s'),
  ms: times('s', 1e-3),
  µs: times('s', 1e-6),
  us: times('s', 1e-6),
  min: times('s', 60),
}
