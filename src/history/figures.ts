import type { Review, Subject } from '../../shared/review.ts'
import { median } from '../math/stats.ts'

/** One figure of a drive beside the cells: what it is of, and its 95 % half width where the review gives one. */
export interface DriveFigure {
  readonly key: string
  readonly words: string
  readonly subject: Subject
  readonly unit: string
  readonly value: number
  readonly plusMinus: number | null
  readonly channels: readonly string[]
}

/**
 * Figures that a car keeps from drive to drive, and that the cars of a kit share. Those that go with warmth are ratios to
 * their peers already (modules); precharge, isolation, pedal and regeneration are taken as they are, and what warmth,
 * road and load do to them is in their own spread over the drives.
 */
export const driveFigures = (review: Review): DriveFigure[] =>
  [
    ...modules(review),
    precharge(review),
    isolation(review),
    pedal(review),
    ...regen(review),
    energy(review),
  ].filter((each) => each !== null)

type Words = Pick<DriveFigure, 'key' | 'words' | 'unit'>

function figure(
  of: Words,
  subject: Subject,
  channels: readonly string[],
  value: number | null | undefined,
  plusMinus: number | null | undefined = null,
): DriveFigure | null {
  if (value === null || value === undefined || !Number.isFinite(value)) return null
  return { ...of, subject, channels, value, plusMinus: plusMinus ?? null }
}

const modules = (review: Review): (DriveFigure | null)[] =>
  review.modules.map(({ index, thermal_resistance_ratio, thermal_resistance_ratio_plus_minus }) =>
    figure(
      {
        key: `module-heat-${index}`,
        words: `how module ${index} sheds its heat, against its peers`,
        unit: 'ratio',
      },
      { type: 'module', index },
      [`module_temperature.${index}`, 'pack_current'],
      thermal_resistance_ratio,
      thermal_resistance_ratio_plus_minus,
    ),
  )

function precharge(review: Review): DriveFigure | null {
  const curves = review.precharge.filter(({ tau_s, bound }) => tau_s !== null && bound === 'exact')
  if (curves.length === 0) return null
  return figure(
    { key: 'precharge-time', words: 'the time constant of precharge', unit: 's' },
    { type: 'precharge' },
    ['link_voltage', 'pack_voltage'],
    median(curves.map(({ tau_s }) => tau_s!)),
    median(curves.map(({ tau_s_plus_minus }) => tau_s_plus_minus ?? 0)),
  )
}

const isolation = (review: Review): DriveFigure | null =>
  figure(
    { key: 'isolation', words: 'isolation', unit: 'Ω/V' },
    { type: 'isolation' },
    ['isolation_resistance', 'pack_voltage'],
    review.isolation?.ohm_per_volt,
    review.isolation?.ohm_per_volt_plus_minus,
  )

const pedal = (review: Review): DriveFigure | null =>
  figure(
    { key: 'pedal-margin', words: 'the largest difference of the pedal’s two tracks', unit: 'points' },
    { type: 'pedal' },
    ['pedal_track_1', 'pedal_track_2'],
    review.pedal?.worst_held_points,
    review.pedal?.worst_held_points_plus_minus,
  )

const REGEN = [
  ['start_bar', 'the pressure at which regeneration begins', 'bar'],
  ['full_bar', 'the pressure at which regeneration is full', 'bar'],
  ['max_nm', 'the most slowing torque', 'N·m'],
] as const

const regen = ({ regen: of }: Review): (DriveFigure | null)[] =>
  REGEN.map(([key, words, unit]) =>
    of?.[`${key}_bound`] === 'exact'
      ? figure(
          { key: `regen-${key}`, words, unit },
          { type: 'brake' },
          ['brake_pressure', 'torque'],
          of[key],
          of[`${key}_plus_minus`],
        )
      : null,
  )

const energy = (review: Review): DriveFigure | null =>
  figure(
    { key: 'energy', words: 'energy over distance', unit: 'Wh/km' },
    { type: 'pack' },
    ['pack_current', 'pack_voltage', 'speed'],
    review.energy.wh_per_km,
    review.energy.wh_per_km_plus_minus,
  )
