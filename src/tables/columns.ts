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
  const column = columnsFrom(rows)
  const figure = (
    key: 'joint_extra_mohm' | 'resistance_mohm' | 'polarisation_mohm' | 'rest_offset_mv' | 'growth_mohm',
    label: string,
    unit: string,
  ): Column[] => [column(key, label, unit), column(`${key}_plus_minus`, `± ${label.toLowerCase()}`, unit)]
  return {
    title: 'Cells',
    columns: [
      { ...column('index', 'Cell'), isName: true },
      { ...column('module', 'Module'), isName: true },
      { key: 'box', label: 'Box', unit: '', values: rows.map((row) => box(row.module)) },
      ...figure('resistance_mohm', 'Resistance', 'mΩ'),
      ...figure('polarisation_mohm', 'Polarisation', 'mΩ'),
      ...figure('joint_extra_mohm', 'Joint, extra', 'mΩ'),
      ...(rows.some((row) => typeof row.growth_mohm === 'number')
        ? figure('growth_mohm', 'Gained since the last drive', 'mΩ')
        : []),
      ...figure('rest_offset_mv', 'Rest offset', 'mV'),
      column('min_v', 'Lowest', 'V'),
      column('max_v', 'Highest', 'V'),
      column('class', 'Class', ''),
    ],
    groups: ['module', 'box', 'class'],
  }
}

function modules({ modules: rows }: Review): Columns {
  const column = columnsFrom(rows)
  return {
    title: 'Modules',
    columns: [
      { ...column('index', 'Module'), isName: true },
      column('box', 'Box'),
      column('rise_c', 'Rise', '°C'),
      column('rise_c_plus_minus', '± rise', '°C'),
      column('thermal_resistance_ratio', 'Thermal resistance ratio'),
      column('thermal_resistance_ratio_plus_minus', '± ratio'),
      column('hottest_c', 'Hottest', '°C'),
      column('hottest_c_plus_minus', '± hottest', '°C'),
      column('spread_c', 'Spread inside', '°C'),
    ],
    groups: ['box'],
  }
}

function applications({ regen }: Review): Columns {
  const rows = (regen?.applications ?? []).map(({ span_s: [from, to], ...row }) => ({
    ...row,
    from_s: from,
    length_s: to - from,
  }))
  const column = columnsFrom(rows)
  return {
    title: 'Brake applications',
    columns: [
      { ...column('from_s', 'From', 's'), isName: true },
      column('length_s', 'Length', 's'),
      column('from_kmh', 'Speed at start', 'km/h'),
      column('to_kmh', 'Speed at end', 'km/h'),
      column('peak_bar', 'Highest pressure', 'bar'),
      column('peak_regen_nm', 'Most regeneration', 'N·m'),
      column('recovered_wh', 'Recovered', 'Wh'),
      column('peak_charge_a', 'Highest charging current', 'A'),
      column('deceleration_ms2', 'Deceleration', 'm/s²'),
      column('deceleration_ms2_plus_minus', '± deceleration', 'm/s²'),
      column('share_regen_percent', 'Share by regeneration', '%'),
      column('limited_by', 'Limited by'),
    ],
    groups: ['limited_by'],
  }
}

/** Makes columns out of the rows' own fields. */
function columnsFrom<Row extends object>(rows: readonly Row[]) {
  return (key: keyof Row & string, label: string, unit = ''): Column => ({
    key,
    label,
    unit,
    values: rows.map((row) => (row[key] ?? null) as number | string | null),
  })
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
