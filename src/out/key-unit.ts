/** Units by the ending that a key of the review carries; the longest ending that fits tells. */
const UNITS: Readonly<Record<string, string>> = {
  mohm: 'mΩ',
  ohm: 'Ω',
  mv: 'mV',
  v: 'V',
  a: 'A',
  w: 'W',
  wh: 'Wh',
  ah: 'Ah',
  j: 'J',
  s: 's',
  h: 'h',
  c: '°C',
  bar: 'bar',
  nm: 'N·m',
  kmh: 'km/h',
  km: 'km',
  ms2: 'm/s²',
  percent: '%',
  ppm: 'ppm',
  ohm_per_volt: 'Ω/V',
  percent_per_h: '%/h',
  wh_per_km: 'Wh/km',
  friction_per_bar: 'm/s²/bar',
  ah_out: 'Ah',
  ah_in: 'Ah',
}

/** The unit of a figure by its key: `joint_extra_mohm_plus_minus` → "mΩ". Source: contract, keys carry their unit. */
export function keyUnit(key: string): string {
  const parts = key.replace(/_(plus_minus|low|high|repeats|from|to)$/, '').split('_')
  for (let from = 0; from < parts.length; from++) {
    const unit = UNITS[parts.slice(from).join('_')]
    if (unit !== undefined) return unit
  }
  return ''
}
