import { useMemo } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { LIMITS } from '../../shared/limits.ts'
import type { CellRow } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { numberText } from '../../shared/wording.ts'
import { useMoment } from '../chart/use-moment.ts'
import { state } from '../state.ts'
import { useStore } from '../store.ts'

/** What the cells can be coloured by: of the whole drive, or at the moment of the cursor. */
export const FIGURES = [
  ['joint_extra_mohm', 'Joint, extra resistance', 'mΩ'],
  ['growth_mohm', 'Gained since the last drive, joint or cell', 'mΩ'],
  ['resistance_mohm', 'Short-time resistance', 'mΩ'],
  ['polarisation_mohm', 'Slow resistance (polarisation)', 'mΩ'],
  ['rest_offset_mv', 'Rest offset', 'mV'],
  ['min_v', 'Lowest voltage under load', 'V'],
  ['max_v', 'Highest voltage', 'V'],
  ['voltage', 'Voltage at the moment', 'V'],
  ['difference', 'Difference from the median at the moment', 'mV'],
  ['temperature', 'Module temperature at the moment', '°C'],
] as const
export type FigureKey = (typeof FIGURES)[number][0]

/** Which figure of the cells shows a finding. */
const SHOWS = [
  [/^(joint|sense-tap)/, 'joint_extra_mohm'],
  [/^(resistance-grown|changed-since-last-drive)/, 'growth_mohm'],
  [/^(cell-weak|parallel)/, 'resistance_mohm'],
  [/^(cell-imbalance|sense-lead)/, 'rest_offset_mv'],
  [/^cell-voltage-limit/, 'min_v'],
] as const

/** Growth that is told from its error on a good log, mΩ. */
const GROWTH_MOHM = 0.02
const REST_MV = LIMITS.restOffset.attention ?? 0

export const AT_MOMENT: readonly FigureKey[] = ['voltage', 'difference', 'temperature']

/** Ends of the colour scale: at least as wide as the attention limit, so that a healthy pack looks even. */
export function scaleEnds(figure: FigureKey, values: readonly number[]): [number, number] {
  const low = Math.min(...values)
  const high = Math.max(...values)
  const middle = [...values].sort((a, b) => a - b)[values.length >> 1] ?? 0
  switch (figure) {
    case 'joint_extra_mohm':
      return [Math.min(low, 0), Math.max(high, LIMITS.joint.attention ?? high)]
    case 'growth_mohm':
      return [Math.min(low, -GROWTH_MOHM), Math.max(high, GROWTH_MOHM)]
    case 'rest_offset_mv':
    case 'difference':
      return [Math.min(low, -REST_MV), Math.max(high, REST_MV)]
    case 'resistance_mohm':
    case 'polarisation_mohm':
      return [Math.min(low, middle), Math.max(high, middle * (LIMITS.cellRatio.attention ?? 1))]
    default:
      return [low, high]
  }
}

/** The attention limit on the figure itself; null where it is judged otherwise. */
export function limitOf(figure: FigureKey): number | null {
  if (figure === 'joint_extra_mohm') return LIMITS.joint.attention
  if (figure === 'rest_offset_mv' || figure === 'difference') return LIMITS.restOffset.attention
  return null
}

export const shortText = (value: number, unit: string) =>
  unit === 'V'
    ? value.toFixed(3)
    : unit === 'mΩ'
      ? value
          .toFixed(2)
          .replace(/^-0\.00$/, '0.00')
          .replace('-', '−')
      : numberText(value, 2)

/** The figure that the worst finding rests on; without one the joints. */
export function usualFigure({ review: { cells, findings } }: DriveAnswer): FigureKey {
  const worst = findings.find(
    ({ severity, kind }) => severity !== 'note' && SHOWS.some(([of]) => of.test(kind)),
  )
  const shown = SHOWS.find(([of]) => worst && of.test(worst.kind))?.[1]
  if (shown && cells.some((cell) => typeof cell[shown] === 'number')) return shown
  if (cells.some((cell) => cell.joint_extra_mohm !== null)) return 'joint_extra_mohm'
  if (cells.some((cell) => cell.resistance_mohm !== null)) return 'resistance_mohm'
  return 'voltage'
}

/** The chosen figure of each cell that has it. */
export function useFigure(
  drive: DriveAnswer,
  vehicle: Vehicle,
  cells: readonly number[],
  figure: FigureKey,
): ReadonlyMap<number, number> {
  const cursorS = useStore(state, (now) => now.cursorS)
  const asked = AT_MOMENT.includes(figure) ? (cursorS ?? 0) : null
  const ids = useMemo(
    () => drive.channels.map(({ id }) => id).filter((id) => /^(cell_voltage|module_temperature)\./.test(id)),
    [drive],
  )
  const moment = useMoment(drive.summary.id, ids, asked)
  return useMemo(() => {
    const out = new Map<number, number>()
    if (asked === null) {
      const key = figure as keyof CellRow
      for (const cell of drive.review.cells) {
        const value = cell[key]
        if (typeof value === 'number') out.set(cell.index, value)
      }
      return out
    }
    if (!moment) return out
    if (figure === 'temperature') return temperatures(drive, vehicle, cells, moment.values)
    for (const cell of cells) {
      const value = moment.values[`cell_voltage.${cell}`]
      if (typeof value === 'number') out.set(cell, value)
    }
    if (figure === 'difference') {
      const sorted = [...out.values()].sort((a, b) => a - b)
      const middle = sorted[sorted.length >> 1] ?? 0
      for (const [cell, value] of out) out.set(cell, (value - middle) * 1000)
    }
    return out
  }, [drive, vehicle, cells, figure, moment, asked])
}

/** Each cell shows its module's hottest sensor. */
function temperatures(
  drive: DriveAnswer,
  vehicle: Vehicle,
  cells: readonly number[],
  values: Readonly<Record<string, number | null>>,
): Map<number, number> {
  const moduleOf = new Map(drive.review.cells.map((cell) => [cell.index, cell.module]))
  const out = new Map<number, number>()
  for (const cell of cells) {
    const module = moduleOf.get(cell) ?? 1
    const sensors = vehicle.pack?.sensors_of_module?.[module - 1] ?? [module]
    const read = sensors.flatMap((sensor) => values[`module_temperature.${sensor}`] ?? [])
    if (read.length > 0) out.set(cell, Math.max(...read))
  }
  return out
}
