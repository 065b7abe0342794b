import type { Random } from '../../simulator/random.ts'
import { changeValues, familyOf, type Scene, type Signal, signalOf } from './scene.ts'

/** What boxes do otherwise: unused slots, switches the other way round, other pedals, other sensors' scales. */
const constant = (like: Signal, id: string, value: number): Signal => ({
  ...like,
  id,
  values: like.values.map(() => value),
})

/** A battery unit with room for more cells or sensors than are fitted: the empty places read `value`. */
export function emptySlots(scene: Scene, family: string, upTo: number, value: number): Scene {
  const fitted = scene.signals.filter((each) => familyOf(each.id) === family)
  const like = fitted[0]!
  const empty = Array.from({ length: upTo - fitted.length }, (_, at) =>
    constant(like, `${family}.${fitted.length + at + 1}`, value),
  )
  return {
    ...scene,
    signals: [...scene.signals, ...empty],
    broken: [...(scene.broken ?? []), ...empty.map(({ id }) => id)],
  }
}

/** 1 = open, as the name then says (`interlock open`). */
export const inverted = (scene: Scene, which: RegExp): Scene =>
  changeValues(scene, which, (value) => 1 - value)

/** A second track that rises with the first at half its slope. */
export function halfSlope(scene: Scene): Scene {
  const [released, pressed] = scene.vehicle.pedal!.track_2!
  const half: [number, number] = [0.45, 2.08]
  const changed = changeValues(scene, 'pedal_track_2', (value) => {
    const travel = (value - released) / (pressed - released)
    return half[0] + travel * (half[1] - half[0])
  })
  return {
    ...changed,
    vehicle: {
      ...scene.vehicle,
      pedal: { ...scene.vehicle.pedal, track_2: half },
    },
  }
}

/** Four wheels with a noise of their own instead of one speed. */
export function wheelsOnly(scene: Scene, random: Random): Scene {
  const speed = signalOf(scene, 'speed')
  const wheels = [1, 2, 3, 4].map((wheel) => {
    const own = random.fork(`wheel ${wheel}`)
    return {
      ...speed,
      id: `wheel_speed.${wheel}`,
      values: speed.values.map((value) => Math.max(0, value + 0.05 * own.normal())),
    }
  })
  return { ...scene, signals: [...scene.signals.filter((each) => each !== speed), ...wheels] }
}

export const scaled = (scene: Scene, which: RegExp, factor: number): Scene =>
  changeValues(scene, which, (value) => value * factor)

/** An isolation monitor that needs 25 s after the start and then saturates. */
export const isolationMonitor = (scene: Scene, settleS: number, most: number): Scene =>
  changeValues(scene, 'isolation_resistance', (value, t) => (t < settleS ? 0 : Math.min(value, most)))

/** Contactors as command, and as feedback 30 ms later. */
export function commandAndFeedback(scene: Scene): Scene {
  const signals = scene.signals.flatMap((each) => {
    if (!/^contactor_/.test(each.id)) return [each]
    const feedback = each.values.map((_, i) => each.values[Math.max(0, i - 2)]!)
    return [
      { ...each, id: `${each.id}_command` },
      { ...each, id: `${each.id}_feedback`, values: feedback },
    ]
  })
  return { ...scene, signals }
}

/** Contactors as the duty of their coils: pulled in at 100 %, held at 30 %. */
export function coilDuty(scene: Scene): Scene {
  let since = Number.NaN
  const changed = changeValues(scene, /^contactor_/, (value, t, i) => {
    if (i === 0) since = Number.NaN
    if (value === 0) {
      since = Number.NaN
      return 0
    }
    if (Number.isNaN(since)) since = t
    return t - since < 0.2 ? 100 : 30
  })
  // A duty is what is asked of the contactor: it may be told as its command.
  return { ...changed, broken: ['contactor_precharge', 'contactor_positive', 'contactor_negative'] }
}
