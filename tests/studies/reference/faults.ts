import type { Expected } from '../../simulator/expected.ts'
import type { Random } from '../../simulator/random.ts'
import { changeValues, heldAt, type Scene, type Signal, signalOf } from './scene.ts'

/**
 * Faults put into a healthy reference drive by formula: Ohm's law for what sits in the current's path, offsets and gains
 * for what a sensor does, 0 and 1 for what a switch does. Cells are changed at their own stamps by the current there.
 */

/** Value between two samples, on a line. */
export function valueAt(signal: Signal): (t: number) => number {
  const { timeS, values } = signal
  let i = 0
  return (t) => {
    if (t < (timeS[i] ?? 0)) i = 0
    while (i + 1 < timeS.length && timeS[i + 1]! <= t) i++
    const [a, b] = [timeS[i]!, timeS[i + 1]]
    if (b === undefined || t <= a) return values[i]!
    return values[i]! + ((values[i + 1]! - values[i]!) * (t - a)) / (b - a)
  }
}

const rounded = (value: number, step: number): number => Math.round(value / step) * step
const also = (scene: Scene, expect: readonly Expected[], allow: readonly string[] = []): Scene => ({
  ...scene,
  expect: [...scene.expect, ...expect],
  allow: [...scene.allow, ...allow],
})
const cellV = (k: number): string => `cell_voltage.${k}`

/**
 * Pack current as the cells of this drive see it: late by the delay between the two readings, found where steps of the
 * current best explain those of a typical cell. And the typical cell's ohmic part, V/A.
 */
function cellCurrent(scene: Scene): { amps: (t: number) => number; ohm: number } {
  const amps = valueAt(signalOf(scene, 'pack_current'))
  const one = signalOf(scene, cellV(3))
  let best = { share: -1, lagS: 0, ohm: 0 }
  for (let lagS = 0; lagS <= 0.5; lagS += 0.02) {
    let [sii, siv, svv, lastI, lastV] = [0, 0, 0, Number.NaN, Number.NaN]
    one.timeS.forEach((t, i) => {
      const [now, v] = [amps(t - lagS), one.values[i]!]
      if (Math.abs(now - lastI) > 5) {
        sii += (now - lastI) ** 2
        siv -= (now - lastI) * (v - lastV)
        svv += (v - lastV) ** 2
      }
      lastI = now
      lastV = v
    })
    const share = siv / Math.sqrt(sii * svv)
    if (share > best.share) best = { share, lagS, ohm: siv / sii }
  }
  return { amps: (t) => amps(t - best.lagS), ohm: best.ohm }
}

/** Volts added to one cell; the pack's voltage follows where the volts are really there. */
function addToCell(scene: Scene, cell: number, volts: (t: number) => number, real: boolean): Scene {
  const changed = changeValues(scene, cellV(cell), (value, t) => rounded(value + volts(t), 0.001))
  return real
    ? changeValues(changed, /^pack_voltage$/, (value, t) => rounded(value + volts(t), 0.1))
    : changed
}

export function joint(scene: Scene, cell: number, milliohm: number, said = true): Scene {
  const { amps } = cellCurrent(scene)
  const changed = addToCell(scene, cell, (t) => (-amps(t) * milliohm) / 1000, true)
  return said
    ? also(changed, [{ kind: 'joint-resistance-high', index: cell, value: milliohm, tol: 0.2 }])
    : changed
}

/** Read half with each neighbour: no convention of the taps holds. */
export function sharedJoint(scene: Scene, cell: number, milliohm: number): Scene {
  const { amps } = cellCurrent(scene)
  const half = (t: number): number => (-amps(t) * milliohm) / 2000
  const changed = addToCell(addToCell(scene, cell, half, true), cell + 1, half, true)
  return also(changed, [], ['joint-resistance-high'])
}

/** Ohmic and slow part larger by `ratio`; the typical cell's own figures are taken from the drive by least squares. */
export function weakCell(scene: Scene, cell: number, ratio: number): Scene {
  const { amps, ohm } = cellCurrent(scene)
  const tau = 25
  let [slow, before] = [0, 0]
  const changed = addToCell(
    scene,
    cell,
    (t) => {
      if (t < before) [slow, before] = [0, 0]
      slow += ((amps(t) - slow) * Math.min(t - before, tau)) / tau
      before = t
      return -(ratio - 1) * ohm * (amps(t) + 0.5 * slow)
    },
    true,
  )
  return also(changed, [{ kind: 'cell-weak', index: cell, value: ratio, tol: 0.2 }])
}

export function senseLead(scene: Scene, cell: number, millivolt: number, said = true): Scene {
  const changed = addToCell(
    addToCell(scene, cell, () => millivolt / 1000, false),
    cell + 1,
    () => -millivolt / 1000,
    false,
  )
  return said
    ? also(changed, [{ kind: 'sense-lead-offset', index: cell, value: millivolt, tol: 0.2 }])
    : changed
}

export function tapMoved(scene: Scene, cell: number, milliohm: number): Scene {
  const { amps } = cellCurrent(scene)
  const by = (t: number): number => (-amps(t) * milliohm) / 1000
  const changed = addToCell(addToCell(scene, cell, by, false), cell + 1, (t) => -by(t), false)
  return also(changed, [{ kind: 'sense-tap-misplaced', index: cell, value: milliohm, tol: 0.3 }])
}

export function noisyLead(scene: Scene, cell: number, millivolt: number, random: Random): Scene {
  const noise = new Map<number, number>()
  const at = (t: number): number => {
    let v = noise.get(t)
    if (v === undefined) noise.set(t, (v = (millivolt / 1000) * random.normal()))
    return v
  }
  return addToCell(addToCell(scene, cell, at, false), cell + 1, (t) => -at(t), false)
}

export function frozenCell(scene: Scene, cell: number, fromS: number): Scene {
  const held = heldAt(signalOf(scene, cellV(cell)), fromS)
  const changed = changeValues(scene, cellV(cell), (value, t) => (t >= fromS ? held : value))
  return also(changed, [{ kind: 'cell-reading-frozen', index: cell }])
}

export function imbalance(scene: Scene, cell: number, millivolt: number, said = true): Scene {
  const changed = addToCell(scene, cell, () => millivolt / 1000, true)
  return said ? also(changed, [{ kind: 'cell-imbalance', index: cell, value: millivolt, tol: 0.2 }]) : changed
}

/** Track 2 reads so many points of travel too much for a while. Expected where that is past 10 points. */
export function trackOff(scene: Scene, points: number, fromS: number, lenS: number): Scene {
  const [released, pressed] = scene.vehicle.pedal!.track_2!
  const by = ((pressed - released) * points) / 100
  const changed = changeValues(scene, 'pedal_track_2', (value, t) =>
    t >= fromS && t < fromS + lenS ? rounded(value + by, 0.001) : value,
  )
  return Math.abs(points) > 10 && lenS > 0.1
    ? also(changed, [{ kind: 'pedal-mismatch', value: Math.abs(points), tol: 0.15 }], ['pedal-out-of-range'])
    : changed
}

/** Track 2's travel times a gain, all drive long. */
export function trackGain(scene: Scene, gain: number): Scene {
  const [released] = scene.vehicle.pedal!.track_2!
  const changed = changeValues(scene, 'pedal_track_2', (value) =>
    rounded(released + (value - released) * gain, 0.001),
  )
  const most = Math.max(...signalOf(scene, 'pedal_position').values)
  const points = most * Math.abs(1 - gain)
  // Held at its most only for a moment: the kind is asked, the figure only roughly.
  return points > 14 ? also(changed, [{ kind: 'pedal-mismatch', value: points, tol: 0.3 }]) : changed
}

export function trackDropout(scene: Scene, atS: number, lenS: number): Scene {
  const changed = changeValues(scene, 'pedal_track_2', (value, t) =>
    t >= atS && t < atS + lenS ? 0.02 : value,
  )
  return lenS > 0.12
    ? also(changed, [{ kind: 'pedal-out-of-range' }], ['pedal-mismatch'])
    : also(changed, [], ['pedal-out-of-range'])
}

/** Drive torque for a while with the pedal released, with the current that it takes. */
export function torqueAlone(scene: Scene, nm: number, lenS: number): Scene {
  const pedal = valueAt(signalOf(scene, 'pedal_position'))
  const torque = valueAt(signalOf(scene, 'torque'))
  const rpm = valueAt(signalOf(scene, 'motor_speed'))
  const volts = valueAt(signalOf(scene, 'pack_voltage'))
  let from = Number.NaN
  for (let t = 60; Number.isNaN(from) && t < 600; t += 0.5) {
    let free = true
    for (let s = t - 0.5; s < t + lenS + 0.5; s += 0.1)
      free &&= pedal(s) < 0.3 && Math.abs(torque(s)) < 2 && rpm(s) > 100
    if (free) from = t
  }
  if (Number.isNaN(from)) throw new Error('the pedal is nowhere released that long while the car rolls')
  const on = (t: number): number => (t >= from && t < from + lenS ? nm : 0)
  let changed = changeValues(scene, /^torque(_request)?$/, (value, t) => value + on(t))
  changed = changeValues(
    changed,
    'pack_current',
    (value, t) => value + (on(t) * rpm(t) * Math.PI) / 30 / 0.9 / Math.max(200, volts(t)),
  )
  return also(changed, [{ kind: 'torque-without-pedal', value: nm, tol: 0.3 }], ['torque-lag'])
}

export const brakeOffset = (scene: Scene, bar: number): Scene =>
  changeValues(scene, 'brake_pressure', (value) => value + bar)

export function brakeStuck(scene: Scene): Scene {
  const changed = changeValues(scene, 'brake_pressure', () => 0.45)
  return also(changed, [{ kind: 'brake-signal-missing' }], ['regen-dead-band', 'lamp-disagrees'])
}

/** Regeneration jumps by `nm` above a pressure, with the current that it gives. */
export function regenStep(scene: Scene, bar: number, nm: number): Scene {
  const pressure = valueAt(signalOf(scene, 'brake_pressure'))
  const torque = valueAt(signalOf(scene, 'torque'))
  const rpm = valueAt(signalOf(scene, 'motor_speed'))
  const volts = valueAt(signalOf(scene, 'pack_voltage'))
  const extra = (t: number): number => (pressure(t) > bar && torque(t) < -4 && rpm(t) > 900 ? nm : 0)
  let changed = changeValues(
    scene,
    'pack_current',
    (value, t) => value - (extra(t) * rpm(t) * Math.PI * 0.88) / 30 / Math.max(200, volts(t)),
  )
  changed = changeValues(changed, /^torque(_request)?$/, (value, t) => value - extra(t))
  return also(changed, [{ kind: 'regen-step' }], ['regen-lag'])
}

export function temperatureStuck(scene: Scene, sensor: number, fromS: number): Scene {
  const id = `module_temperature.${sensor}`
  const held = heldAt(signalOf(scene, id), fromS)
  return also(
    changeValues(scene, id, (value, t) => (t >= fromS ? held : value)),
    [{ kind: 'temperature-reading-frozen', index: sensor }],
  )
}

export function temperatureOpen(scene: Scene, sensor: number, fromS: number, reads: number): Scene {
  const id = `module_temperature.${sensor}`
  const changed = changeValues(scene, id, (value, t) => (t >= fromS ? reads : value))
  return { ...also(changed, [{ kind: 'temperature-reading-invalid', index: sensor }]), broken: [id] }
}

export const hotModule = (scene: Scene, sensor: number, celsius: number): Scene =>
  also(
    changeValues(scene, `module_temperature.${sensor}`, (value, t) =>
      rounded(value + celsius * Math.min(1, t / 400), 0.5),
    ),
    [{ kind: 'temperature-limit' }],
    ['module-cooling-poor', 'temperature-rise-fast'],
  )

export function isolation(scene: Scene, kohm: number, fromS: number, lenS: number): Scene {
  const changed = changeValues(scene, 'isolation_resistance', (value, t) =>
    t >= fromS && t < fromS + lenS ? kohm : value,
  )
  return also(changed, [{ kind: 'isolation-low' }])
}

/** A switch reads `value` for a while, nothing else follows. */
export const bit = (scene: Scene, id: string, value: number, fromS: number, lenS: number): Scene =>
  changeValues(scene, id, (was, t) => (t >= fromS && t < fromS + lenS ? value : was))

/** A switch is seen later than it moved. */
export const late = (scene: Scene, id: string, byS: number): Scene => {
  const signal = signalOf(scene, id)
  return changeValues(scene, id, (value, t) => (t < byS ? value : heldAt(signal, t - byS)))
}

/** The loop opens while driving: contactors drop, torque and current end, the link runs down, the log goes on 6 s. */
export function loopOpens(scene: Scene, id: 'inertia_closed' | 'interlock_closed', atS: number): Scene {
  const link = heldAt(signalOf(scene, 'link_voltage'), atS)
  const speed = heldAt(signalOf(scene, 'speed'), atS)
  let changed = bit(scene, id, 0, atS, 1e9)
  changed = changeValues(changed, /^contactor_/, (value, t) => (t >= atS + 0.05 ? 0 : value))
  changed = changeValues(changed, /^(pack_current|torque|torque_request)$/, (value, t) =>
    t >= atS + 0.06 ? 0 : value,
  )
  changed = changeValues(changed, 'link_voltage', (value, t) =>
    t >= atS + 0.06 ? link * Math.exp(-(t - atS) / 2) : value,
  )
  const rolling = (t: number): number => Math.max(0, 1 - (t - atS) / 60)
  const rpm = heldAt(signalOf(scene, 'motor_speed'), atS)
  changed = changeValues(changed, 'speed', (value, t) => (t >= atS ? speed * rolling(t) : value))
  changed = changeValues(changed, 'motor_speed', (value, t) => (t >= atS ? rpm * rolling(t) : value))
  changed = changeValues(changed, 'drive_ready', (value, t) => (t >= atS + 0.1 ? 0 : value))
  changed = changeValues(changed, 'bms_state', (value, t) => (t >= atS + 0.1 ? 1 : value))
  changed = changeValues(changed, 'inverter_state', (value, t) => (t >= atS + 0.1 ? 1 : value))
  // What the cells dropped at that moment's current comes back.
  const cut = atS + 6
  const cellOhm = 0.0007
  const was = valueAt(signalOf(scene, 'pack_current'))
  changed = changeValues(changed, /^cell_voltage\./, (value, t) =>
    t >= atS + 0.06 ? rounded(value + cellOhm * was(t), 0.001) : value,
  )
  const cells = scene.vehicle.pack!.cells!
  changed = changeValues(changed, 'pack_voltage', (value, t) =>
    t >= atS + 0.06 ? rounded(value + cells * cellOhm * was(t), 0.1) : value,
  )
  changed = {
    ...changed,
    signals: changed.signals.map((each) => {
      const n = each.timeS.findIndex((t) => t >= cut)
      return n < 0 ? each : { ...each, timeS: each.timeS.slice(0, n), values: each.values.slice(0, n) }
    }),
  }
  return also(
    changed,
    [{ kind: 'drive-lost', name: id === 'inertia_closed' ? 'inertia' : 'interlock' }],
    [
      'interlock-open',
      'inertia-switch-open',
      'contactor-opened-under-load',
      'no-drive',
      'main-path-resistance-high',
    ],
  )
}

export const lvAt = (
  scene: Scene,
  volts: number,
  fromS: number,
  lenS: number,
  said: readonly string[],
): Scene =>
  also(
    changeValues(scene, 'lv_voltage', (value, t) => (t >= fromS && t < fromS + lenS ? volts : value)),
    said.map((kind) => ({ kind })),
    ['dcdc-not-charging'],
  )

export function dcdcOff(scene: Scene): Scene {
  const changed = changeValues(scene, 'dcdc_current', () => 0)
  return also(
    changeValues(changed, 'lv_voltage', (_, t) => rounded(12.45 - 0.0004 * t, 0.01)),
    [{ kind: 'dcdc-not-charging' }],
  )
}

export function mainPath(scene: Scene, milliohm: number): Scene {
  const amps = valueAt(signalOf(scene, 'pack_current'))
  const changed = changeValues(scene, /^(pack_voltage|link_voltage)$/, (value, t) =>
    rounded(value - (amps(t) * milliohm) / 1000, 0.1),
  )
  return also(changed, [{ kind: 'main-path-resistance-high', value: milliohm, tol: 0.25 }])
}

export const currentOffset = (scene: Scene, amps: number): Scene =>
  also(
    changeValues(scene, 'pack_current', (value) => value + amps),
    // The healthy drive's own zero is 0.15 A.
    [{ kind: 'current-offset', value: amps + 0.15, tol: 0.1 }],
  )

export const currentClipped = (scene: Scene, amps: number): Scene =>
  also(
    changeValues(scene, 'pack_current', (value) => Math.max(-amps, Math.min(amps, value))),
    [{ kind: 'current-clipped' }],
    ['soc-disagrees'],
  )

/** The link stands at pack voltage before anything closed. */
export function welded(scene: Scene): Scene {
  const closed = signalOf(scene, 'contactor_positive')
  const at = closed.timeS[closed.values.indexOf(1)]!
  const volts = valueAt(signalOf(scene, 'pack_voltage'))
  const changed = changeValues(scene, 'link_voltage', (value, t) =>
    t < at ? rounded(volts(t) - 0.3, 0.1) : value,
  )
  return also(changed, [{ kind: 'contactor-welded' }])
}
