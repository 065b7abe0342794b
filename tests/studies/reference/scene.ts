import { join } from 'node:path'
import { catalogueEntry } from '../../../shared/channels.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import { openLogSource } from '../../../src/bytes/file-source.ts'
import { cleanSeries } from '../../../src/drive/cleaning/clean-channel.ts'
import { readLog } from '../../../src/importers/registry.ts'
import { nameSeries } from '../../../src/naming/name-series.ts'
import { readVehicleFile } from '../../../src/open/vehicle-file.ts'
import { LOGS, truths } from '../../check-logs.ts'
import type { Expected } from '../../simulator/expected.ts'

/** One channel of a reference drive in the catalogue's unit, as its log holds it. */
export interface Signal {
  readonly id: string
  readonly timeS: Float64Array
  readonly values: Float64Array
  /** What the box rounds to, in the catalogue's unit. */
  readonly step: number
  readonly node: 'battery' | 'vehicle' | 'inverter'
}

/** A drive to be written: what its logs hold, and what must come out. */
export interface Scene {
  readonly signals: readonly Signal[]
  readonly vehicle: Vehicle
  readonly expect: readonly Expected[]
  /** Kinds that may be there as well. */
  readonly allow: readonly string[]
  /** Channels whose written values are no truth: a broken sensor's. */
  readonly broken?: readonly string[]
  /** Exit status that the review must have; undefined: 1 where an expected finding says stop, else not judged. */
  readonly exit?: number
}

const BATTERY =
  /^(cell_voltage\.|module_temperature\.|pack_|contactor|isolation|soc|charge_limit|discharge_limit|bms|interlock)/
const INVERTER = /^(torque|motor_speed|link_voltage|inverter|motor_temperature)/
const STEPS: Readonly<Record<string, number>> = {
  cell_voltage: 0.001,
  module_temperature: 0.5,
  pack_voltage: 0.1,
  pack_current: 0.1,
  link_voltage: 0.1,
  isolation_resistance: 1,
  lv_voltage: 0.01,
  dcdc_current: 0.1,
  speed: 0.01,
  torque: 0.1,
  torque_request: 0.1,
  motor_speed: 1,
  pedal_track_1: 0.001,
  pedal_track_2: 0.001,
  pedal_position: 0.1,
  brake_pressure: 0.01,
  charge_limit: 1,
  discharge_limit: 1,
  soc: 0.1,
}

const CHARGE_POSITIVE = new Set(['sense-lead', 'regen'])

export const familyOf = (id: string): string => id.replace(/\.\d+$/, '')

const kept = new Map<string, Scene>()

/** A drive of the reference logs, read where it stands; nothing of it is kept in the project. */
export async function referenceScene(name: string): Promise<Scene> {
  const before = kept.get(name)
  if (before) return before
  const { truth } = truths().find((each) => each.truth.name === name)!
  const folder = join(LOGS, name)
  const vehicle = await readVehicleFile(join(folder, truth.vehicle))
  const options = truth.signals ? { signals: join(folder, truth.signals) } : {}
  const log = await readLog(await openLogSource(join(folder, truth.files[0]!)), options)
  const signals = cleanSeries(nameSeries(log.series))
    .filter(({ id }) => catalogueEntry(id))
    .map(
      ({ id, series }): Signal => ({
        id,
        timeS: series.timeS,
        // Two of the logs write the current with charge positive.
        values:
          id === 'pack_current' && CHARGE_POSITIVE.has(name) ? series.values.map((v) => -v) : series.values,
        step: STEPS[familyOf(id)] ?? (catalogueEntry(id)!.kind === 'number' ? 0.5 : 1),
        node: BATTERY.test(id) ? 'battery' : INVERTER.test(id) ? 'inverter' : 'vehicle',
      }),
    )
  const scene: Scene = {
    signals,
    vehicle,
    expect: truth.expect.map(({ kind, index, name: subject, value, tol }) => ({
      kind,
      ...(index == null ? {} : { index }),
      ...(subject === undefined ? {} : { name: subject }),
      ...(value === undefined ? {} : { value, tol: tol ?? 0.1 }),
    })),
    allow: truth.allow,
  }
  kept.set(name, scene)
  return scene
}

/** Value of a signal at a moment: the last sample at or before it. */
export function heldAt(signal: Signal, t: number): number {
  let low = 0
  let high = signal.timeS.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (signal.timeS[middle]! <= t) low = middle + 1
    else high = middle
  }
  return low === 0 ? Number.NaN : signal.values[low - 1]!
}

export const signalOf = (scene: Scene, id: string): Signal => {
  const found = scene.signals.find((each) => each.id === id)
  if (!found) throw new Error(`no ${id} in this scene`)
  return found
}

/** The scene with the values of some channels changed; `change` gets the old value, the time and the sample's index. */
export function changeValues(
  scene: Scene,
  which: string | RegExp,
  change: (value: number, t: number, i: number, id: string) => number,
): Scene {
  const meant = (id: string): boolean => (typeof which === 'string' ? id === which : which.test(id))
  return {
    ...scene,
    signals: scene.signals.map((each) =>
      meant(each.id)
        ? { ...each, values: each.values.map((value, i) => change(value, each.timeS[i]!, i, each.id)) }
        : each,
    ),
  }
}

/** Keeps the samples for which `keep` says so; channels that share their times share them after. */
export function keepSamples(
  scene: Scene,
  which: RegExp,
  keep: (t: number, i: number, times: Float64Array) => boolean,
): Scene {
  const masks = new Map<Float64Array, { at: number[]; timeS: Float64Array }>()
  return {
    ...scene,
    signals: scene.signals.map((each) => {
      if (!which.test(each.id)) return each
      let mask = masks.get(each.timeS)
      if (!mask) {
        const at: number[] = []
        each.timeS.forEach((t, i, times) => {
          if (keep(t, i, times as Float64Array)) at.push(i)
        })
        mask = { at, timeS: Float64Array.from(at, (i) => each.timeS[i]!) }
        masks.set(each.timeS, mask)
      }
      return { ...each, timeS: mask.timeS, values: Float64Array.from(mask.at, (i) => each.values[i]!) }
    }),
  }
}
