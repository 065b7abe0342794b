import { expect, test } from 'vitest'
import { channelNamed } from '../../../shared/drive.ts'
import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import { buildDrive } from '../../../src/drive/build-drive.ts'

const timeS = Float64Array.from({ length: 600 }, (_, i) => i / 10)
const load = (t: number): number => Math.max(0, Math.sin(t / 5))
const VALUES: Readonly<Record<string, (t: number) => number>> = {
  speed: (t) => (t < 5 ? 0 : 30 + 10 * Math.sin(t / 9)),
  pack_current: (t) => 80 * load(t) + 0.1 * Math.sin(t * 97),
  torque: (t) => 60 * load(t),
  link_voltage: (t) => 390 - load(t),
  pedal_position: (t) => 40 * load(t),
  pedal_track_1: (t) => 0.8 + 1.5 * load(t),
  discharge_limit: () => 300,
  charge_limit: () => 100,
  coolant_in: () => 18,
  motor_temperature: () => 20,
  'module_temperature.1': () => 17,
}
function drive(changed: Readonly<Record<string, (t: number) => number>>) {
  const series = Object.entries({ ...VALUES, ...changed }).map(
    ([id, value]): RawSeries => ({
      name: `column ${id}`,
      unit: null,
      channel: id,
      timeS,
      values: timeS.map(value),
      fresh: null,
      labels: null,
      node: null,
    }),
  )
  const log: RawLog = {
    name: 'drive.csv',
    sha256: '0'.repeat(64),
    layout: 'wide CSV',
    rows: timeS.length,
    skipped: [],
    series,
    startedAt: null,
    fingerprint: 'x',
    bus: null,
    events: [],
    clockSteps: [],
  }
  return buildDrive([log])
}
const nought = (): number => 0
const PARKED = { speed: nought, pack_current: nought }

test.each([
  'torque',
  'link_voltage',
  'pedal_position',
  'discharge_limit',
  'coolant_in',
  'motor_temperature',
] as const)('%s at 0 throughout a drive that shows it should have moved: left out, and said', (id) => {
  const built = drive({ [id]: nought })
  expect(built.channels.has(id)).toBe(false)
  expect(channelNamed(built.channels, `column ${id}`)).toBeDefined()
  expect(built.reports.find(({ from }) => from.endsWith(id))!.why).toContain('should have moved')
  expect(built.assumptions.join(' ')).toContain(`${id} stands at 0 throughout`)
})

test('at 0 on a parked car they say what they say', () => {
  for (const id of ['torque', 'link_voltage', 'pedal_position', 'discharge_limit'] as const)
    expect(drive({ ...PARKED, [id]: nought }).channels.has(id)).toBe(true)
})

test('a charge limit of 0 is a full pack’s; with the discharge limit at 0 as well neither is fed', () => {
  expect(drive({ charge_limit: nought }).channels.has('charge_limit')).toBe(true)
  const both = drive({ charge_limit: nought, discharge_limit: nought })
  expect(both.channels.has('charge_limit') || both.channels.has('discharge_limit')).toBe(false)
})

test('a frosty coolant at 0 °C in a frosty car stays', () => {
  expect(drive({ coolant_in: nought, 'module_temperature.1': () => 2 }).channels.has('coolant_in')).toBe(true)
})
