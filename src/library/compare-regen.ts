import type { Review } from '../../shared/review.ts'

type Regen = NonNullable<Review['regen']>

/** One figure of two drives, and whether it changed beyond what both intervals explain. */
export interface RegenChange {
  readonly what: string
  readonly unit: string
  readonly before: number | null
  readonly after: number | null
  readonly difference: number | null
  /** 95 % half width of the difference; null where either drive gives only a bound. */
  readonly plusMinus: number | null
  readonly changed: boolean | null
}

/** Stops at the same pressure in both drives. */
export interface RegenAtPressure {
  /** Middle of the band of peak pressures, bar; bands are 4 bar wide. */
  readonly bar: number
  readonly before: { readonly stops: number; readonly regenNm: number; readonly deceleration: number | null }
  readonly after: { readonly stops: number; readonly regenNm: number; readonly deceleration: number | null }
}

export interface RegenComparison {
  readonly changes: readonly RegenChange[]
  readonly samePressure: readonly RegenAtPressure[]
  /** What cannot be compared, in sentences. */
  readonly notes: readonly string[]
}

const BAND_BAR = 4
const FAST_KMH = 20

/**
 * What a change of the regeneration map changed: figures of the map with their intervals, energy, and stops at the same
 * pressures (started above 20 km/h). Pure; gives null where either review has no regeneration.
 */
export function compareRegen(before: Review, after: Review): RegenComparison | null {
  const a = before.regen
  const b = after.regen
  if (!a || !b) return null
  const notes: string[] = []
  if (a.full_bar_bound !== 'exact' || b.full_bar_bound !== 'exact')
    notes.push(
      'A drive did not reach its full pressure, so full pressure and most torque are compared as bounds only.',
    )
  notes.push(
    'Energy and share depend on route and driver as well as on the map; the stops at the same pressure do not.',
  )
  return { changes: changesOf(a, b), samePressure: atSamePressure(a, b), notes }
}

/** Every figure of the map in both drives: what, unit, value and ±. */
function changesOf(a: Regen, b: Regen): RegenChange[] {
  type Read = (regen: Regen) => [value: number | null, plusMinus: number | null]
  const figures: readonly (readonly [what: string, unit: string, of: Read])[] = [
    ['start pressure', 'bar', (each) => [each.start_bar, each.start_bar_plus_minus]],
    [
      'full pressure',
      'bar',
      (each) => [each.full_bar, exactOnly(each.full_bar_bound, each.full_bar_plus_minus)],
    ],
    [
      'most slowing torque',
      'N·m',
      (each) => [each.max_nm, exactOnly(each.max_nm_bound, each.max_nm_plus_minus)],
    ],
    ['fade, from', 'km/h', (each) => [each.fade_kmh?.[0] ?? null, each.fade_kmh_plus_minus]],
    ['fade, to', 'km/h', (each) => [each.fade_kmh?.[1] ?? null, each.fade_kmh_plus_minus]],
    ['lift-off regeneration', 'N·m', (each) => [each.lift_nm, each.lift_nm_plus_minus]],
    ['delay', 's', (each) => [each.delay_s, each.delay_s_plus_minus]],
    ['energy recovered', 'Wh', (each) => [each.recovered_wh, each.recovered_wh_plus_minus]],
    ['share of the energy drawn', '%', (each) => [each.share_percent, each.share_percent_plus_minus]],
    ['time limited', 's', (each) => [limitedS(each), null]],
  ]
  return figures.map(([what, unit, of]) => change(what, unit, ...of(a), ...of(b)))
}

const exactOnly = (bound: Regen['full_bar_bound'], plusMinus: number | null): number | null =>
  bound === 'exact' ? plusMinus : null

function change(
  what: string,
  unit: string,
  before: number | null,
  beforePlusMinus: number | null,
  after: number | null,
  afterPlusMinus: number | null,
): RegenChange {
  const difference = before !== null && after !== null ? after - before : null
  const plusMinus =
    beforePlusMinus !== null && afterPlusMinus !== null ? Math.hypot(beforePlusMinus, afterPlusMinus) : null
  const changed = difference === null || plusMinus === null ? null : Math.abs(difference) > plusMinus
  return { what, unit, before, after, difference, plusMinus, changed }
}

const limitedS = (regen: Regen): number => regen.limited_by.reduce((sum, each) => sum + each.time_s, 0)

function atSamePressure(a: Regen, b: Regen): RegenAtPressure[] {
  const before = byBand(a)
  const after = byBand(b)
  return [...before.keys()]
    .filter((band) => after.has(band))
    .sort((x, y) => x - y)
    .map((band) => ({
      bar: (band + 0.5) * BAND_BAR,
      before: summary(before.get(band)!),
      after: summary(after.get(band)!),
    }))
}

function byBand(regen: Regen): Map<number, Regen['applications']> {
  const bands = new Map<number, Regen['applications']>()
  for (const each of regen.applications) {
    if (each.peak_bar === null || !((each.from_kmh ?? 0) > FAST_KMH)) continue
    const band = Math.floor(each.peak_bar / BAND_BAR)
    bands.set(band, [...(bands.get(band) ?? []), each])
  }
  return bands
}

function summary(stops: Regen['applications']): RegenAtPressure['before'] {
  const mean = (values: readonly (number | null)[]): number | null => {
    const known = values.filter((value) => value !== null)
    return known.length > 0 ? known.reduce((sum, value) => sum + value, 0) / known.length : null
  }
  return {
    stops: stops.length,
    regenNm: mean(stops.map((each) => each.peak_regen_nm)) ?? 0,
    deceleration: mean(stops.map((each) => each.deceleration_ms2)),
  }
}
