import { peakSchema, type Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { VERSION } from '../../shared/version.ts'
import { keyUnit } from './key-unit.ts'
import { columnOf, type OutColumn, type OutTable, type OutValue } from './out-table.ts'

/** The tables of a review that go out beside its channels. */
export const REVIEW_TABLES = [
  'drives',
  'findings',
  'questions',
  'cells',
  'modules',
  'starts',
  'brake_applications',
] as const
export type ReviewTable = (typeof REVIEW_TABLES)[number]

/** Name, kind and unit of each column; the same for every review, so that files of many drives stand in one table. */
type Form = readonly (readonly [key: string, type: OutColumn['type'], unit?: string])[]
type Row = Readonly<Record<string, OutValue | undefined>>

/** Every table of a review; a row's figures keep the review's keys, units stand beside them. */
export function reviewTables(review: Review, vehicle: Vehicle): OutTable[] {
  return REVIEW_TABLES.map((name) => {
    const { form, rows } = MAKERS[name](review, vehicle)
    return {
      name,
      rows: rows.length,
      columns: form.map(([key, type, unit]) =>
        columnOf(
          type,
          { name: key, unit: unit ?? keyUnit(key) },
          rows.map((row) => row[key] ?? null),
        ),
      ),
    }
  })
}

const numbersOf = (...keys: readonly string[]): Form => keys.map((key) => [key, 'number'] as const)
const withPlusMinus = (...keys: readonly string[]): Form =>
  keys.flatMap((key) => [[key, 'number'] as const, [`${key}_plus_minus`, 'number', keyUnit(key)] as const])

const MAKERS: Readonly<
  Record<ReviewTable, (review: Review, vehicle: Vehicle) => { form: Form; rows: readonly Row[] }>
> = {
  drives,
  findings,
  questions,
  cells,
  modules,
  starts,
  brake_applications: applications,
}

const ENERGIES = ['out_wh', 'in_wh', 'net_wh', 'wh_per_km', 'ah_out', 'ah_in']
const REGEN_FIGURES = [
  'start_bar',
  'full_bar',
  'lift_nm',
  'brake_max_nm',
  'max_nm',
  'friction_per_bar',
  'limited_share_percent',
  'recovered_wh',
  'share_percent',
]
const PEAKS = Object.keys(peakSchema.shape)

const DRIVES: Form = [
  ['started_at', 'text'],
  ['started_days', 'number', 'd'],
  ['duration_s', 'number'],
  ['distance_km', 'number'],
  ['verdict', 'text'],
  ['sentence', 'text'],
  ['stop', 'whole'],
  ['attention', 'whole'],
  ['note', 'whole'],
  ['not_assessed', 'whole'],
  ['logs', 'text'],
  ['sha256', 'text'],
  ['program', 'text'],
  ['cells_in_series', 'whole'],
  ['chemistry', 'text'],
  ...numbersOf(...PEAKS.map((key) => `peak_${key}`)),
  ...withPlusMinus(...ENERGIES),
  ['regen_form', 'text'],
  ...withPlusMinus(...REGEN_FIGURES.map((key) => `regen_${key}`)),
  ...numbersOf('regen_fade_kmh_from', 'regen_fade_kmh_to'),
  ['isolation_ohm_per_volt', 'number'],
]

function drives(review: Review, vehicle: Vehicle): { form: Form; rows: Row[] } {
  const { drive, verdict, energy, regen } = review
  const count = (severity: string): number =>
    review.findings.filter((each) => each.severity === severity).length
  const row: Row = {
    started_at: drive.started_at,
    started_days: daysOf(drive.started_at),
    duration_s: drive.duration_s,
    distance_km: drive.distance_km,
    verdict: verdict.state,
    sentence: verdict.sentence,
    stop: count('stop'),
    attention: count('attention'),
    note: count('note'),
    not_assessed: review.questions.filter(({ state }) => state === 'not-assessed').length,
    logs: drive.files.map(({ name }) => name).join('; '),
    sha256: drive.files.map(({ sha256 }) => sha256).join('; '),
    program: VERSION,
    cells_in_series: vehicle.pack?.cells ?? (review.cells.length > 0 ? review.cells.length : null),
    chemistry: vehicle.pack?.chemistry ?? null,
    ...prefixed('peak_', drive.peak),
    ...energy,
    ...prefixed('regen_', regen ?? {}),
    regen_fade_kmh_from: regen?.fade_kmh?.[0],
    regen_fade_kmh_to: regen?.fade_kmh?.[1],
    isolation_ohm_per_volt: review.isolation?.ohm_per_volt,
  }
  return { form: DRIVES, rows: [row] }
}

/** Days since 1970 in the stamp's own zone, in UTC where it has none: a number that every engine can reckon with. */
function daysOf(stamp: string | null): number | null {
  const ms = stamp === null ? Number.NaN : Date.parse(/Z|[+-]\d\d:\d\d$/.test(stamp) ? stamp : `${stamp}Z`)
  return Number.isNaN(ms) ? null : ms / 86_400_000
}

/** Plain values only, each key with the prefix. */
function prefixed(prefix: string, from: object): Record<string, OutValue> {
  return Object.fromEntries(
    Object.entries(from).flatMap(([key, value]) =>
      value === null || typeof value !== 'object' ? [[`${prefix}${key}`, value as OutValue]] : [],
    ),
  )
}

/** A row a subject: the worst of a pattern has `place` 0, the others of the same finding follow with its `id`. */
function findings(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ['id', 'text'],
      ['place', 'whole'],
      ['kind', 'text'],
      ['severity', 'text'],
      ['subject_type', 'text'],
      ['subject_index', 'whole'],
      ['subject_name', 'text'],
      ['cell_before', 'whole'],
      ['cell_after', 'whole'],
      ...numbersOf('value', 'low', 'high', 'plus_minus', 'limit'),
      ['unit', 'text'],
      ['bound', 'text'],
      ['limit_source', 'text'],
      ...numbersOf('from_s', 'to_s', 'onset_s'),
      ['headline', 'text'],
      ['reason', 'text'],
      ['next_step', 'text'],
      ['explained_by', 'text'],
      ['question', 'text'],
    ],
    rows: review.findings.flatMap((finding) =>
      [finding, ...finding.also].map(({ subject, value, low, high, plus_minus }, place) => ({
        ...finding,
        ...{ subject: null, span_s: null, also: null, cautions: null, rivals: null, evidence: null },
        ...{ place, value, low, high, plus_minus },
        subject_type: subject.type,
        subject_index: subject.index,
        subject_name: subject.name,
        cell_before: subject.between_cells?.[0],
        cell_after: subject.between_cells?.[1],
        from_s: finding.span_s[0],
        to_s: finding.span_s[1],
      })),
    ),
  }
}

function questions(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ['area', 'text'],
      ['question', 'text'],
      ['state', 'text'],
      ['why', 'text'],
      ['to_assess', 'text'],
      ['missing', 'text'],
      ...numbersOf('smallest_seen', 'chance', 'limit', 'measured'),
      ['unit', 'text'],
    ],
    rows: review.questions.map((each) => ({ ...each, missing: each.missing.join('; ') })),
  }
}

function cells(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ['index', 'whole'],
      ['module', 'whole'],
      ['cell_before', 'whole'],
      ['cell_after', 'whole'],
      ...withPlusMinus('resistance_mohm'),
      ...numbersOf('resistance_mohm_repeats', 'resistance_window_s'),
      ...withPlusMinus('polarisation_mohm', 'joint_extra_mohm', 'growth_mohm', 'rest_offset_mv'),
      ...numbersOf('rest_s', 'min_v', 'max_v'),
      ['class', 'text'],
    ],
    rows: review.cells.map(({ between_cells, ...cell }) => ({
      ...cell,
      cell_before: between_cells?.[0],
      cell_after: between_cells?.[1],
    })),
  }
}

function modules(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ['index', 'whole'],
      ['box', 'text'],
      ...withPlusMinus('rise_c', 'thermal_resistance_ratio', 'hottest_c'),
      ['spread_c', 'number'],
      ...withPlusMinus('forecast_c'),
      ['time_to_limit_s', 'number'],
    ],
    rows: review.modules.map((each) => ({ ...each })),
  }
}

/** The steps a start is made of, in the contract's order. */
const STEPS =
  'supply key plug interlock inertia battery isolation negative precharge positive inverter brake selector pedal ready torque'.split(
    ' ',
  )

function starts(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ['attempt', 'whole'],
      ...numbersOf('from_s', 'to_s'),
      ['reached', 'text'],
      ['first_failed', 'text'],
      ['lost_s', 'number'],
      ...STEPS.flatMap(
        (name) => [[`${name}_held`, 'switch'] as const, [`${name}_at_s`, 'number'] as const] as const,
      ),
    ],
    rows: review.starts.map(({ steps, span_s, ...start }, at) => ({
      ...start,
      attempt: at + 1,
      from_s: span_s[0],
      to_s: span_s[1],
      ...Object.fromEntries(
        steps.flatMap((step) => [
          [`${step.name}_held`, step.held],
          [`${step.name}_at_s`, step.at_s],
        ]),
      ),
    })),
  }
}

function applications(review: Review): { form: Form; rows: Row[] } {
  return {
    form: [
      ...numbersOf(
        'from_s',
        'to_s',
        'from_kmh',
        'to_kmh',
        'peak_bar',
        'peak_regen_nm',
        'recovered_wh',
        'peak_charge_a',
      ),
      ...withPlusMinus('deceleration_ms2'),
      ['share_regen_percent', 'number'],
      ['limited_by', 'text'],
    ],
    rows: (review.regen?.applications ?? []).map(({ span_s, ...each }) => ({
      ...each,
      from_s: span_s[0],
      to_s: span_s[1],
    })),
  }
}
