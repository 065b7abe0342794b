import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'

export const TABLE_NAMES = ['cells', 'modules', 'brake-applications', 'starts'] as const
export type TableName = (typeof TABLE_NAMES)[number]

/** A column before it is a frame: numbers or words, null where the log cannot tell. */
export interface Column {
  readonly key: string
  readonly label: string
  readonly unit: string
  readonly values: readonly (number | string | null)[]
  /** True where a mean over rows means nothing: numbers of things, moments. */
  readonly isName?: boolean
}

export interface Columns {
  readonly title: string
  readonly columns: readonly Column[]
  /** Columns by which rows can be grouped. */
  readonly groups: readonly string[]
}

/** The review's rows as columns, in the order in which people read them. */
export function columnsOf(review: Review, name: TableName, vehicle: Vehicle = {}): Columns {
  switch (name) {
    case 'cells':
      return cells(review, vehicle)
    case 'modules':
      return modules(review)
    case 'brake-applications':
      return applications(review)
    case 'starts':
      return starts(review)
  }
}

function cells({ cells: rows, modules: all }: Review, vehicle: Vehicle): Columns {
  const boxes = vehicle.pack?.box_of_module ?? []
  const box = (module: number) => all.find(({ index }) => index === module)?.box ?? boxes[module - 1] ?? null
  const pick = <Key extends keyof (typeof rows)[number]>(key: Key) => rows.map((row) => row[key])
  const figure = (
    key: 'joint_extra_mohm' | 'resistance_mohm' | 'polarisation_mohm' | 'rest_offset_mv',
    label: string,
    unit: string,
  ): Column[] => [
    { key, label, unit, values: pick(key) },
    { key: `${key}_plus_minus`, label: `± ${label.toLowerCase()}`, unit, values: pick(`${key}_plus_minus`) },
  ]
  return {
    title: 'Cells',
    columns: [
      { key: 'index', label: 'Cell', unit: '', values: pick('index'), isName: true },
      { key: 'module', label: 'Module', unit: '', values: pick('module'), isName: true },
      { key: 'box', label: 'Box', unit: '', values: rows.map((row) => box(row.module)) },
      ...figure('resistance_mohm', 'Resistance', 'mΩ'),
      ...figure('polarisation_mohm', 'Polarisation', 'mΩ'),
      ...figure('joint_extra_mohm', 'Joint, extra', 'mΩ'),
      ...figure('rest_offset_mv', 'Rest offset', 'mV'),
      { key: 'min_v', label: 'Lowest', unit: 'V', values: pick('min_v') },
      { key: 'max_v', label: 'Highest', unit: 'V', values: pick('max_v') },
      { key: 'class', label: 'Class', unit: '', values: pick('class') },
    ],
    groups: ['module', 'box', 'class'],
  }
}

function modules({ modules: rows }: Review): Columns {
  return {
    title: 'Modules',
    columns: [
      { key: 'index', label: 'Module', unit: '', values: rows.map((row) => row.index), isName: true },
      { key: 'box', label: 'Box', unit: '', values: rows.map((row) => row.box) },
      { key: 'rise_c', label: 'Rise', unit: '°C', values: rows.map((row) => row.rise_c) },
      {
        key: 'rise_c_plus_minus',
        label: '± rise',
        unit: '°C',
        values: rows.map((row) => row.rise_c_plus_minus),
      },
      {
        key: 'thermal_resistance_ratio',
        label: 'Thermal resistance ratio',
        unit: '',
        values: rows.map((row) => row.thermal_resistance_ratio),
      },
      {
        key: 'thermal_resistance_ratio_plus_minus',
        label: '± ratio',
        unit: '',
        values: rows.map((row) => row.thermal_resistance_ratio_plus_minus),
      },
      { key: 'hottest_c', label: 'Hottest', unit: '°C', values: rows.map((row) => row.hottest_c) },
      { key: 'spread_c', label: 'Spread inside', unit: '°C', values: rows.map((row) => row.spread_c) },
    ],
    groups: ['box'],
  }
}

function applications({ regen }: Review): Columns {
  const rows = regen?.applications ?? []
  return {
    title: 'Brake applications',
    columns: [
      { key: 'from_s', label: 'From', unit: 's', values: rows.map((row) => row.span_s[0]), isName: true },
      {
        key: 'length_s',
        label: 'Length',
        unit: 's',
        values: rows.map((row) => row.span_s[1] - row.span_s[0]),
      },
      { key: 'from_kmh', label: 'Speed at start', unit: 'km/h', values: rows.map((row) => row.from_kmh) },
      { key: 'to_kmh', label: 'Speed at end', unit: 'km/h', values: rows.map((row) => row.to_kmh) },
      { key: 'peak_bar', label: 'Highest pressure', unit: 'bar', values: rows.map((row) => row.peak_bar) },
      {
        key: 'peak_regen_nm',
        label: 'Most regeneration',
        unit: 'N·m',
        values: rows.map((row) => row.peak_regen_nm),
      },
      { key: 'recovered_wh', label: 'Recovered', unit: 'Wh', values: rows.map((row) => row.recovered_wh) },
      {
        key: 'peak_charge_a',
        label: 'Highest charging current',
        unit: 'A',
        values: rows.map((row) => row.peak_charge_a),
      },
      {
        key: 'deceleration_ms2',
        label: 'Deceleration',
        unit: 'm/s²',
        values: rows.map((row) => row.deceleration_ms2),
      },
      {
        key: 'deceleration_ms2_plus_minus',
        label: '± deceleration',
        unit: 'm/s²',
        values: rows.map((row) => row.deceleration_ms2_plus_minus),
      },
      {
        key: 'share_regen_percent',
        label: 'Share by regeneration',
        unit: '%',
        values: rows.map((row) => row.share_regen_percent),
      },
      { key: 'limited_by', label: 'Limited by', unit: '', values: rows.map((row) => row.limited_by) },
    ],
    groups: ['limited_by'],
  }
}

function starts({ starts: rows }: Review): Columns {
  const names = [...new Set(rows.flatMap((row) => row.steps.map((step) => step.name)))]
  return {
    title: 'Starts',
    columns: [
      { key: 'from_s', label: 'From', unit: 's', values: rows.map((row) => row.span_s[0]), isName: true },
      {
        key: 'length_s',
        label: 'Length',
        unit: 's',
        values: rows.map((row) => row.span_s[1] - row.span_s[0]),
      },
      { key: 'reached', label: 'Reached', unit: '', values: rows.map((row) => row.reached) },
      {
        key: 'first_failed',
        label: 'First that failed',
        unit: '',
        values: rows.map((row) => row.first_failed),
      },
      ...names.map((name) => ({
        key: name,
        label: `Step ${name}`,
        unit: '',
        values: rows.map((row) => {
          const held = row.steps.find((step) => step.name === name)?.held
          return held === true ? 'held' : held === false ? 'failed' : null
        }),
      })),
    ],
    groups: ['reached', 'first_failed'],
  }
}
