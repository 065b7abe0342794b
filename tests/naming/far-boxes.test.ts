import { describe, expect, test } from 'vitest'
import type { RawSeries } from '../../shared/raw-log.ts'
import { headerUnit } from '../../src/importers/table/header-unit.ts'
import { nameSeries } from '../../src/naming/name-series.ts'
import { withSeveralMotors } from '../../src/naming/several-motors.ts'

/** Boxes from farther away, by our own writers: languages, short names, hex, unused inputs, a motor at each axle. */
const timeS = Float64Array.from({ length: 400 }, (_, i) => i / 10)
const series = (name: string, value: (i: number) => number): RawSeries => ({
  name,
  unit: headerUnit(name),
  channel: null,
  timeS,
  values: timeS.map((_, i) => value(i)),
  fresh: null,
  labels: null,
  node: null,
})
const wave = (low: number, high: number) => (i: number) =>
  low + (high - low) * (0.5 + 0.5 * Math.sin(i / 20)) + (i % 3) / 1000
const onOff = (i: number): number => (i > 50 && i < 300 ? 1 : 0)
const ids = (...all: RawSeries[]): string[] =>
  nameSeries(all).map(({ id, sureness }) => (sureness > 0 ? id : '-'))
const cells = (names: readonly string[]): RawSeries[] =>
  names.map((name, c) => series(name, (i) => 3.7 + c * 0.001 - 0.06 * Math.sin(i / 15)))

// common practice, no source
test.each([
  ['Tensão do pack (0,01 V)', wave(34_000, 39_000), 'pack_voltage'],
  ['Corrente do pack (0,1 A)', wave(-900, 1500), 'pack_current'],
  ['Rotação do motor (rpm)', wave(0, 6000), 'motor_speed'],
  ['Temperatura do inversor (°C)', wave(20, 45), 'inverter_temperature'],
  ['Napětí meziobvodu [V]', wave(300, 360), 'link_voltage'],
  ['Stav nabití [%]', wave(50, 60), 'soc'],
  ['Stykač předbíjení', onOff, 'contactor_precharge'],
  ['Stycznik ładowania wstępnego', onOff, 'contactor_precharge'],
  ['Moment zadany [Nm]', wave(0, 120), 'torque_request'],
  ['Isolasjonsmotstand [kOhm]', wave(900, 1000), 'isolation_resistance'],
  ['Vääntömomenttipyyntö [Nm]', wave(0, 120), 'torque_request'],
  ['Virta-avain', onOff, 'key_on'],
  ['Jarrupaine [bar]', wave(0, 60), 'brake_pressure'],
  ['Vb', wave(300, 360), 'pack_voltage'],
  ['Ib', wave(-90, 160), 'pack_current'],
  ['Nmot', wave(0, 6000), 'motor_speed'],
  ['Kpre', onOff, 'contactor_precharge'],
  ['Twout', wave(20, 30), 'coolant_out'],
  ['Inertia trip', onOff, 'inertia_closed'],
  ['HVIL fault', onOff, 'interlock_closed'],
  // two readings of a sensor are no switch
  ['Tc01', (i: number) => (i > 200 ? 21.5 : 21), '-'],
])('%s', (name, value, id) => {
  expect(ids(series(name, value))).toEqual([id])
})

describe('cells counted as units count them', () => {
  const one = (n: number): number[] => Array.from({ length: n }, (_, k) => k)
  const numbers = (names: readonly string[]): string[] => ids(...cells(names))

  test('in hex, from nought', () => {
    const names = one(24).map((k) => `cell_0x${k.toString(16).toUpperCase().padStart(2, '0')}_v`)
    expect(numbers(names)).toEqual(one(24).map((k) => `cell_voltage.${k + 1}`))
  })
  test('an input that no module uses is no cell', () => {
    const names = one(3).flatMap((m) => [0, 1, 2, 3, 5, 6].map((c) => `M${2 * m}.C${c} [V]`))
    expect(numbers(names)).toEqual(one(18).map((k) => `cell_voltage.${k + 1}`))
  })
  test('one that a single module lacks stays a gap', () => {
    const names = one(3).flatMap((m) =>
      [0, 1, 2, 3].flatMap((c) => (m === 1 && c === 2 ? [] : `M${m}.C${c} [V]`)),
    )
    expect(numbers(names)).not.toContain('cell_voltage.7')
    expect(numbers(names)).toContain('cell_voltage.12')
  })
  test('"Block 15" is no terminal 15', () => {
    expect(numbers(one(20).map((k) => `Článek ${k + 1} [V]`))).toContain('cell_voltage.15')
  })
  test('sensors at every second address', () => {
    const sensors = one(4).map((k) => series(`M${2 * k}.T0 [°C]`, wave(20 + k, 26 + k)))
    expect(ids(...sensors)).toEqual(one(4).map((k) => `module_temperature.${k + 1}`))
  })
})

describe('a motor at each axle', () => {
  const torque = wave(-20, 110)
  const rpm = wave(300, 5000)
  const front = series('Front motor torque [Nm]', (i) => 0.4 * torque(i))
  const rear = series('Rear motor torque [Nm]', (i) => 0.6 * torque(i))
  const speeds = [
    series('Front motor speed [rpm]', (i) => 1.1 * rpm(i)),
    series('Rear motor speed [rpm]', rpm),
  ]
  const of = (all: RawSeries[], id: string) =>
    withSeveralMotors(nameSeries(all)).find((each) => each.id === id)

  test('torque is added up at the shaft of the stronger one', () => {
    const sum = of([front, rear, ...speeds], 'torque')!
    expect(sum.series.values[100]).toBeCloseTo((0.6 + 0.4 * 1.1) * torque(100), 6)
    expect(of([front, rear, ...speeds], 'motor_speed')!.series.values[100]).toBeCloseTo(rpm(100), 6)
  })
  test('a motor of its own is none of several', () => {
    const all = [series('Motor torque [Nm]', torque), series('Front motor speed [rpm]', rpm)]
    expect(of(all, 'torque')!.series).toBe(all[0])
  })
  test('motors that do not turn together are not added up', () => {
    const odd = [speeds[0]!, series('Rear motor speed [rpm]', wave(4000, 250))]
    expect(
      of(
        [front, rear, odd[0]!, { ...odd[1]!, values: odd[1]!.values.map((_, i) => 300 + ((i * 37) % 900)) }],
        'torque',
      ),
    ).toBeUndefined()
  })
})
