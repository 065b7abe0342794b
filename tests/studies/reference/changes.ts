import type { Random } from '../../simulator/random.ts'
import { changeValues, familyOf, heldAt, keepSamples, type Scene, type Signal, signalOf } from './scene.ts'

/** Changes to how a drive was logged: rates, holes, cuts, channels. None may change what is found. */

/** The sample nearest before each tick of a slower clock, stamped with its own time. */
export function thinned(scene: Scene, which: RegExp, hz: number): Scene {
  return keepSamples(
    scene,
    which,
    (t, i, times) => i === 0 || Math.floor(t * hz + 1e-6) > Math.floor(times[i - 1]! * hz + 1e-6),
  )
}

/** Full rows at one rate: every channel's last value repeated on every row. */
export function heldRows(scene: Scene, hz: number): Scene {
  const to = endOf(scene)
  const timeS = Float64Array.from({ length: Math.floor(to * hz) + 1 }, (_, i) => i / hz)
  return {
    ...scene,
    signals: scene.signals.map((each) => ({
      ...each,
      timeS,
      values: timeS.map((t) => {
        const value = heldAt(each, t + 1e-9)
        return Number.isNaN(value) ? each.values[0]! : value
      }),
    })),
  }
}

export const endOf = (scene: Scene): number =>
  Math.max(...scene.signals.map((each) => each.timeS[each.timeS.length - 1] ?? 0))

export function coarser(scene: Scene, steps: Readonly<Record<string, number>>): Scene {
  return {
    ...scene,
    signals: scene.signals.map((each) => {
      const step = steps[familyOf(each.id)]
      if (step === undefined) return each
      return { ...each, step, values: each.values.map((value) => Math.round(value / step) * step) }
    }),
  }
}

/** Whole rows lost at random. */
export function rowsLost(scene: Scene, share: number, random: Random): Scene {
  const lost = new Map<number, boolean>()
  return keepSamples(scene, /./, (t) => {
    let gone = lost.get(t)
    if (gone === undefined) lost.set(t, (gone = random.chance(share)))
    return !gone
  })
}

/** Runs of unreadable samples in one channel after another. */
export function unreadableRuns(scene: Scene, random: Random, lenS: number): Scene {
  const to = endOf(scene)
  const from = new Map<string, number>()
  return changeValues(scene, /./, (value, t, _, id) => {
    const family = familyOf(id)
    let at = from.get(family)
    if (at === undefined) from.set(family, (at = random.between(0, to)))
    return t >= at && t < at + lenS ? Number.NaN : value
  })
}

/** Some rows are written twice. */
export function rowsDoubled(scene: Scene, share: number, random: Random): Scene {
  const doubled = new Map<number, boolean>()
  const times = new Map<Float64Array, number[]>()
  return {
    ...scene,
    signals: scene.signals.map((each) => {
      let from = times.get(each.timeS)
      if (!from) {
        from = []
        for (let i = 0; i < each.timeS.length; i++) {
          const t = each.timeS[i]!
          let twice = doubled.get(t)
          if (twice === undefined) doubled.set(t, (twice = random.chance(share)))
          from.push(i)
          if (twice) from.push(i)
        }
        times.set(each.timeS, from)
      }
      return {
        ...each,
        timeS: Float64Array.from(from, (i) => each.timeS[i]!),
        values: Float64Array.from(from, (i) => each.values[i]!),
      }
    }),
  }
}

export const cutTo = (scene: Scene, fromS: number, toS: number): Scene =>
  keepSamples(scene, /./, (t) => t >= fromS && t < toS)

export const withGap = (scene: Scene, fromS: number, lenS: number): Scene =>
  keepSamples(scene, /./, (t) => t < fromS || t >= fromS + lenS)

/** The same drive twice in one log, `pauseS` between. */
export function twice(scene: Scene, pauseS: number): Scene {
  const by = endOf(scene) + pauseS
  const times = new Map<Float64Array, Float64Array>()
  return {
    ...scene,
    signals: scene.signals.map((each) => {
      let timeS = times.get(each.timeS)
      if (!timeS) {
        timeS = new Float64Array(2 * each.timeS.length)
        timeS.set(each.timeS)
        timeS.set(
          each.timeS.map((t) => t + by),
          each.timeS.length,
        )
        times.set(each.timeS, timeS)
      }
      const n = each.values.length
      const values = new Float64Array(2 * n)
      values.set(each.values)
      values.set(each.values, n)
      return { ...each, timeS, values }
    }),
  }
}

export const without = (scene: Scene, which: RegExp): Scene => ({
  ...scene,
  signals: scene.signals.filter((each) => !which.test(each.id)),
})

/** Lowest and highest cell, with their numbers, instead of all cells. */
export function onlyExtremes(scene: Scene): Scene {
  const cells = scene.signals.filter((each) => familyOf(each.id) === 'cell_voltage')
  const { timeS, step } = cells[0]!
  const of = (id: string, values: Float64Array, by: number): Signal => ({
    id,
    timeS,
    values,
    step: by,
    node: 'battery',
  })
  const low = new Float64Array(timeS.length)
  const high = new Float64Array(timeS.length)
  for (let i = 0; i < timeS.length; i++) {
    const all = cells.map((each) => each.values[i]!)
    low[i] = Math.min(...all)
    high[i] = Math.max(...all)
  }
  const rest = without(scene, /^cell_voltage\./)
  return {
    ...rest,
    signals: [...rest.signals, of('lowest_cell_voltage', low, step), of('highest_cell_voltage', high, step)],
  }
}

/**
 * Another pack: the first `cells` of it, or copies of its cells with noise and offsets of their own behind them. Pack and
 * link voltage, torque, mass and drag follow, so that power still balances.
 */
export function otherSize(scene: Scene, cells: number, random: Random): Scene {
  const have = scene.vehicle.pack!.cells!
  const share = cells / have
  const scaled = changeValues(
    scene,
    /^(pack_voltage|link_voltage|torque|torque_request|isolation_resistance)$/,
    (value) => value * share,
  )
  const signals = scaled.signals.filter(
    ({ id }) => familyOf(id) !== 'cell_voltage' || Number(id.split('.')[1]) <= cells,
  )
  for (let number = have + 1; number <= cells; number++) {
    const from = signalOf(scene, `cell_voltage.${((number - 1) % have) + 1}`)
    const offset = 0.0008 * random.normal()
    signals.push({
      ...from,
      id: `cell_voltage.${number}`,
      values: from.values.map(
        (value) => Math.round((value + offset + 0.0006 * random.normal()) / from.step) * from.step,
      ),
    })
  }
  const { pack, brake, car } = scene.vehicle
  const per = pack!.cells_per_module as number
  const modules = Math.ceil(cells / per)
  return {
    ...scaled,
    signals,
    vehicle: {
      ...scene.vehicle,
      pack: {
        chemistry: pack!.chemistry!,
        capacity_ah: pack!.capacity_ah!,
        cell_voltage_min: pack!.cell_voltage_min!,
        cell_voltage_max: pack!.cell_voltage_max!,
        cell_temperature_max: pack!.cell_temperature_max!,
        cells,
        cells_per_module: per,
        long_busbar_after_cells: Array.from({ length: modules - 1 }, (_, m) => (m + 1) * per),
      },
      brake: { ...brake, regen_max_nm: brake!.regen_max_nm! * share },
      car: {
        ...car,
        mass_kg: car!.mass_kg! * share,
        drag_area_m2: car!.drag_area_m2! * share,
      },
    },
  }
}

/** One sender's samples missing for a while. */
export const withoutSender = (scene: Scene, node: Signal['node'], fromS: number, lenS: number): Scene => {
  const silent = new Set(scene.signals.filter((each) => each.node === node).map(({ id }) => id))
  return {
    ...scene,
    signals: scene.signals.map((each) => {
      if (!silent.has(each.id)) return each
      const at = Array.from(each.timeS.keys()).filter(
        (i) => each.timeS[i]! < fromS || each.timeS[i]! >= fromS + lenS,
      )
      return {
        ...each,
        timeS: Float64Array.from(at, (i) => each.timeS[i]!),
        values: Float64Array.from(at, (i) => each.values[i]!),
      }
    }),
  }
}

/** Noise of a box that is worse by a factor than what these boxes round to. */
const NOISE: Readonly<Record<string, number>> = {
  cell_voltage: 0.0007,
  pack_voltage: 0.1,
  pack_current: 0.2,
  link_voltage: 0.4,
  speed: 0.06,
  torque: 0.4,
  pedal_track_1: 0.007,
  pedal_track_2: 0.007,
  brake_pressure: 0.06,
  lv_voltage: 0.02,
  isolation_resistance: 60,
}

export const noisier = (scene: Scene, times: number, random: Random): Scene => ({
  ...scene,
  signals: scene.signals.map((each) => {
    const sigma = NOISE[familyOf(each.id)]
    if (!sigma) return each
    const own = random.fork(each.id)
    const noisy = each.values.map(
      (value) => Math.round((value + times * sigma * own.normal()) / each.step) * each.step,
    )
    return { ...each, values: each.id === 'speed' ? noisy.map((value) => Math.max(0, value)) : noisy }
  }),
})
