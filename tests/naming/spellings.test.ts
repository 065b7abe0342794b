import { describe, expect, test } from 'vitest'
import type { RawSeries } from '../../shared/raw-log.ts'
import { cleanSeries } from '../../src/drive/cleaning/clean-channel.ts'
import { nameSeries } from '../../src/naming/name-series.ts'

/** Names of one box, met when the reference drives were written again in other words (`study:variants`). */
const timeS = Float64Array.from({ length: 200 }, (_, i) => i / 10)
const series = (name: string, unit: string | null, value: (i: number) => number): RawSeries => ({
  name: unit ? `${name} [${unit}]` : name,
  unit,
  channel: null,
  timeS,
  values: timeS.map((_, i) => value(i)),
  fresh: null,
  labels: null,
  node: null,
})
const onOff = (i: number): number => (i > 50 ? 1 : 0)
const idOf = (name: string, unit: string | null, value: (i: number) => number): string =>
  nameSeries([series(name, unit, value)])[0]!.id

describe('spellings', () => {
  test.each([
    ['PreChargeRelay', 'contactor_precharge'],
    ['pre.charge.relay', 'contactor_precharge'],
    ['k_vor', 'contactor_precharge'],
    ['Fahrbereit', 'drive_ready'],
    ['PrêtÀRouler', 'drive_ready'],
    ['Contacteur frein', 'brake_switch'],
    ['contacteur.inertie.ok', 'inertia_closed'],
    ['RELAIS_PRINCIPAL_NÉGATIF', 'contactor_negative'],
    ['relais principal negatif', 'contactor_negative'],
    ['Zundung', 'key_on'],
  ])('switch %s is %s', (name, id) => {
    expect(idOf(name, null, onOff)).toBe(id)
  })

  test.each([
    ['12vBatteryVoltage', 'V', (i: number) => 12.5 + (i % 3) / 100, 'lv_voltage'],
    ['tension.12v', 'V', (i: number) => 12.5 + (i % 3) / 100, 'lv_voltage'],
    ['IsolationsWiderstand', 'kOhm', (i: number) => 2600 + i, 'isolation_resistance'],
    ['M ist', 'Nm', (i: number) => i - 80, 'torque'],
    ['M soll', 'Nm', (i: number) => i - 80, 'torque_request'],
    ['temperature moteur', '°C', (i: number) => 20 + i / 10, 'motor_temperature'],
  ] as const)('%s [%s]', (name, unit, value, id) => {
    expect(idOf(name, unit, value)).toBe(id)
  })
})

test('a dot before 12 V, with its unit in a row of its own', () => {
  const column = { ...series('tension.12v', 'V', (i) => 12.5 + (i % 3) / 100), name: 'tension.12v' }
  expect(nameSeries([column])[0]!.id).toBe('lv_voltage')
})

test('boxes with a letter are numbered by it, in whatever order their columns stand', () => {
  const cells = (box: string): RawSeries[] =>
    Array.from({ length: 6 }, (_, c) =>
      series(`LogBox${box}Zelle${c}Spannung`, 'V', (i) => 3.9 - i / 1e4 + c / 1e3),
    )
  const named = nameSeries([...cells('B'), ...cells('A')])
  expect(named.map(({ id }) => id)).toEqual(
    [7, 8, 9, 10, 11, 12, 1, 2, 3, 4, 5, 6].map((number) => `cell_voltage.${number}`),
  )
})

test('both tracks of a pedal have one unit: 0.86 V that never moves is no share of 1', () => {
  const cleaned = cleanSeries(
    nameSeries([
      series('Accelerator sensor 1', null, (i) => 0.86 + (i % 2) / 1000),
      series('Accelerator sensor 2', null, (i) => 4.16 - (i % 2) / 1000),
    ]),
  )
  expect(cleaned.map(({ id, unit }) => [id, unit])).toEqual([
    ['pedal_track_1', 'V'],
    ['pedal_track_2', 'V'],
  ])
  expect(cleaned[0]!.series.values[0]).toBeCloseTo(0.86, 9)
})
