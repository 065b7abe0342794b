import { expect, test } from 'vitest'
import { gatherFacts } from '../../src/review/run-all.ts'
import { attempts } from '../../src/start/models/start-attempts.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** A day in one log, by our own writer: driven, charged with the contactors closed by the charger, driven again. */
test('a charge between two drives is no attempt to start', () => {
  const timeS = Array.from({ length: 5000 }, (_, i) => i / 10)
  const inside = (s: number, spans: readonly (readonly [number, number])[]) =>
    spans.some(([from, to]) => s >= from && s < to) ? 1 : 0
  const on = (...spans: (readonly [number, number])[]) => timeS.map((s) => inside(s, spans))
  const closed: [number, number][] = [
    [12, 120],
    [202, 290],
    [412, 480],
  ]
  const drive = driveFromColumns(timeS, {
    key_on: on([10, 120], [410, 480]),
    charge_plug: on([180, 300]),
    contactor_precharge: on([11, 12.5], [201, 202.5], [411, 412.5]),
    contactor_negative: on([10.5, 120], [200.5, 290], [410.5, 480]),
    contactor_positive: on(...closed),
    drive_ready: on([14, 120], [414, 480]),
    brake_switch: on([10, 16], [410, 416]),
    pack_voltage: timeS.map(() => 350),
    link_voltage: timeS.map((s) => (inside(s, closed) ? 350 : 0)),
    pack_current: timeS.map((s) => (inside(s, [[205, 285]]) ? -20 : inside(s, closed) ? 5 : 0)),
    speed: timeS.map((s) =>
      inside(s, [
        [20, 110],
        [420, 470],
      ])
        ? 30
        : 0,
    ),
  })
  expect(attempts(gatherFacts(drive, {})).map(({ startS }) => Math.round(startS / 10))).toEqual([1, 41])
})
