import { describe, expect, test } from 'vitest'
import type { RawSeries } from '../../shared/raw-log.ts'
import { headerUnit } from '../../src/importers/table/header-unit.ts'
import { nameSeries } from '../../src/naming/name-series.ts'

/**
 * Names as the trade writes them in English, German and French (common practice, no source): what each column is, and
 * what it must not be taken for. A wrong name is worse than none.
 */
const timeS = Float64Array.from({ length: 400 }, (_, i) => i / 10)
const series = (name: string, value: (i: number) => number, labels: string[] | null = null): RawSeries => ({
  name,
  unit: headerUnit(name),
  channel: null,
  timeS,
  values: timeS.map((_, i) => value(i)),
  fresh: null,
  labels,
  node: null,
})
const ids = (...all: RawSeries[]): string[] =>
  nameSeries(all).map(({ id, sureness }) => (sureness > 0 ? id : '-'))
const idOf = (name: string, value: (i: number) => number): string => ids(series(name, value))[0]!

const onOff = (i: number): number => (i > 50 && i < 300 ? 1 : 0)
const wave = (low: number, high: number) => (i: number) =>
  low + (high - low) * (0.5 + 0.5 * Math.sin(i / 20)) + (i % 3) / 1000
const load = (i: number): number => 120 * Math.sin(i / 15)
const cells = (count: number, name = (n: number) => `Cell ${n} [V]`): RawSeries[] =>
  Array.from({ length: count }, (_, c) => series(name(c + 1), (i) => 3.7 + c * 0.001 - load(i) * 5e-4))

describe('a wrong name is worse than none', () => {
  test.each([
    ['Elevation (m)', wave(400, 480)],
    ['Altitude (M)', wave(400, 480)],
    ['Distance (m)', wave(0, 4800)],
    ['Gear [-]', (i: number) => 1 + Math.floor(i / 150)],
    ['Gear', (i: number) => Math.floor(i / 90)],
    ['Current gear', (i: number) => Math.floor(i / 150)],
    ['Precharge state', (i: number) => Math.floor(i / 90)],
    ['Vorladestatus', (i: number) => (i > 100 ? 5 : 2)],
    ['BrakeThrottle', onOff],
    ['Brake while throttle', onOff],
    ['Brems-Gaspedal Plausibilität', onOff],
    ['TC button', onOff],
    ['TC slip', (i: number) => Math.floor(i / 150)],
    ['Traction control switch', onOff],
    ['Cruise control enabled', onOff],
    ['Cruise main switch', onOff],
    ['Emergency stop', onOff],
    ['GearPos', (i: number) => Math.floor(i / 90)],
    ['gear_state', (i: number) => Math.floor(i / 90)],
    ['Throttle map', (i: number) => Math.floor(i / 90)],
    ['Brake booster vacuum [bar]', wave(0.4, 0.8)],
    ['Parking brake', onOff],
    ['Brake wear', onOff],
    ['Precharge done', onOff],
    ['Key start', onOff],
    ['Sensor supply [V]', wave(4.9, 5)],
    ['Range [km]', wave(80, 110)],
    ['Aux battery (V)', () => 0],
  ] as const)('%s is none of ours', (name, value) => {
    const id = idOf(name, value)
    expect(name.startsWith('Aux') ? ['-', 'lv_voltage'] : ['-']).toContain(id)
  })

  test('12.5 V throughout is no pack, whatever its name', () => {
    expect(idOf('Battery voltage [V]', () => 12.5)).not.toBe('pack_voltage')
  })

  test('of two voltages the one that is the sum of the cells is the pack', () => {
    const named = ids(
      ...cells(24),
      series('Battery voltage [V]', (i) => 48 - load(i) * 0.01),
      series('U ges', (i) => 89.1 - load(i) * 0.012),
    )
    expect(named.slice(24)).toEqual(['-', 'pack_voltage'])
  })

  test("a cabin heater's circuit is not the drive's coolant", () => {
    const inlet = series('Coolant Temperature Inlet [°C]', wave(40, 55))
    expect(ids(series('Coolant Temperature Heater [°C]', wave(50, 60)), inlet)[1]).toBe('-')
    expect(ids(series('Temperature Heat Exchanger Coolant [°C]', wave(50, 60)), inlet)[1]).toBe('-')
    expect(
      ids(series('Heater coolant [°C]', wave(50, 60)), series('Battery coolant inlet [°C]', wave(20, 25)))[1],
    ).toBe('coolant_in')
    expect(ids(inlet)).toEqual(['coolant_in'])
  })
})

describe('missed though plain', () => {
  test.each([
    ['Vehicle speed kmph', wave(0, 90), 'speed'],
    ['VehSpdKMPH', wave(0, 90), 'speed'],
    ['Bremslicht', onOff, 'brake_lamp'],
    ['Stopplicht', onOff, 'brake_lamp'],
    ['Feux stop', onOff, 'brake_lamp'],
    ['feu_de_freinage', onOff, 'brake_lamp'],
    ['Rückfahrscheinwerfer', onOff, 'reverse_lamp'],
    ['rueckfahrlicht', onOff, 'reverse_lamp'],
    ['Feu de recul', onOff, 'reverse_lamp'],
    ['Wählhebel', (i: number) => Math.floor(i / 150) - 1, 'selector'],
    ['Fahrtrichtung', (i: number) => Math.floor(i / 150) - 1, 'selector'],
    ['Levier de vitesses', (i: number) => Math.floor(i / 150) - 1, 'selector'],
    ['sens de marche', (i: number) => Math.floor(i / 150) - 1, 'selector'],
    ['Low voltage bus [V]', wave(13, 14), 'lv_voltage'],
    ['LV bus voltage', wave(13, 14), 'lv_voltage'],
    ['Tension batterie servitude [V]', wave(13, 14), 'lv_voltage'],
  ] as const)('%s', (name, value, id) => {
    expect(idOf(name, value)).toBe(id)
  })

  test('corner speeds by their letters', () => {
    for (const name of [
      (at: string) => `${at} KPH`,
      (at: string) => `${at}WheelKPH`,
      (at: string) => `${at} wheel speed kmph`,
      (at: string) => `${at}_speed_kph`,
    ])
      expect(ids(...['FL', 'FR', 'RL', 'RR'].map((at) => series(name(at), wave(0, 90))))).toEqual([
        'wheel_speed.1',
        'wheel_speed.2',
        'wheel_speed.3',
        'wheel_speed.4',
      ])
  })

  test("a battery unit's own prefix", () => {
    expect(
      ids(
        series('QZX_SOC [%]', wave(60, 70)),
        series('QZX_CellMin [V]', wave(3.5, 3.7)),
        series('QZX_CellMax [V]', wave(3.6, 3.8)),
        series('QZX_Voltage [V]', wave(340, 360)),
        series('QZX_Current [A]', load),
        series('ABC_Voltage [V]', wave(340, 360)),
      ).slice(3),
    ).toEqual(['pack_voltage', 'pack_current', '-'])
  })

  test('the twin of a named pedal track', () => {
    expect(
      ids(
        series('APPS 1 [V]', (i) => 0.8 + wave(0, 3)(i)),
        series('APPS inverted [V]', (i) => 4.3 - wave(0, 3)(i)),
      ),
    ).toEqual(['pedal_track_1', 'pedal_track_2'])
  })

  test('a signed current of the same size beside one without sign', () => {
    expect(
      ids(
        series('Battery current [A]', (i) => Math.abs(load(i))),
        series('Shunt current [A]', load),
      ),
    ).toEqual(['-', 'pack_current'])
  })

  test('one cell on a bench', () => {
    expect(
      ids(
        series('Voltage [V]', (i) => 3.6 - load(i) * 1e-3),
        series('Current [A]', load),
      ),
    ).toEqual(['cell_voltage.1', 'pack_current'])
    expect(
      ids(
        series('Cell voltage (V)', (i) => 3.6 - load(i) * 1e-3),
        series('Current (A)', load),
      ),
    ).toEqual(['cell_voltage.1', 'pack_current'])
  })
})

describe('the second list of the contract', () => {
  test.each([
    ['cruise_active', onOff, ['Cruise control active', 'Tempomat aktiv', 'Régulateur actif', 'cruise_on']],
    ['hold_active', onOff, ['Auto hold active', 'Creep active', 'Kriechen aktiv']],
    ['slope_hold_request', onOff, ['Hill hold request', 'HillHoldReq', 'Berganfahrhilfe Anforderung']],
    [
      'ambient_temperature',
      wave(5, 9),
      ['Ambient temperature [°C]', 'Außentemperatur', 'OutsideTemp_C', 'Température extérieure [°C]'],
    ],
    [
      'cabin_temperature',
      wave(15, 21),
      ['Cabin temp [°C]', 'Innenraumtemperatur [°C]', 'Température habitacle [°C]'],
    ],
    [
      'coolant_flow',
      wave(6, 9),
      ['Coolant flow [l/min]', 'Kühlmittel Durchfluss [l/min]', 'CoolantFlow_lpm'],
    ],
    [
      'pump_duty',
      wave(20, 80),
      ['Coolant pump duty [%]', 'Pump PWM [%]', 'Kühlmittelpumpe Tastverhältnis [%]'],
    ],
    ['fan_duty', wave(20, 80), ['Fan duty [%]', 'Lüfter PWM [%]', 'Ventilateur [%]']],
    ['pilot_duty', wave(20, 53), ['Control pilot duty [%]', 'CP PWM duty [%]']],
    ['pilot_voltage', wave(5.9, 6.1), ['Control pilot voltage [V]', 'CP_Voltage [V]']],
    [
      'proximity_resistance',
      wave(219, 221),
      ['Proximity resistance [Ohm]', 'PP resistance [Ω]', 'PP Widerstand [Ohm]'],
    ],
    ['charge_lock', onOff, ['Charge plug locked', 'Ladestecker verriegelt', 'Charge lock']],
    ['charge_enable', onOff, ['Charge enable', 'Charger enabled']],
    ['contactor_charge', onOff, ['Charge contactor', 'Ladeschütz', 'Contacteur charge']],
    ['mains_voltage', wave(228, 231), ['Mains voltage [V]', 'Netzspannung [V]', 'Grid voltage [V]']],
    ['mains_current', wave(15, 16), ['Mains current [A]', 'Netzstrom [A]']],
    ['lv_current', wave(-8, 25), ['12 V current [A]', 'LV current [A]', 'Bordnetzstrom [A]']],
    ['heater_power', wave(500, 4000), ['Heater power [W]', 'Heizung Leistung [W]', 'PTC power [W]']],
    [
      'cooler_power',
      wave(300, 1900),
      ['AC compressor power [W]', 'Aircon power [W]', 'Klimakompressor Leistung [W]'],
    ],
    [
      'charger_state',
      (i: number) => Math.floor(i / 90),
      ['Charger state', 'OBC status', 'Ladegerät Zustand'],
    ],
    [
      'charge_current_request',
      wave(20, 32),
      ['Charge current request [A]', 'Ladestrom Soll [A]', 'Charging current demand [A]'],
    ],
    ['charge_voltage_request', wave(398, 403), ['Charge voltage request [V]', 'Ladespannung Soll [V]']],
    [
      'odometer',
      (i: number) => 48211 + i / 100,
      ['Odometer [km]', 'Kilometerstand [km]', 'Kilométrage [km]', 'odo_km'],
    ],
  ] as const)('%s', (id, value, names) => {
    expect(names.map((name) => [name, idOf(name, value)])).toEqual(names.map((name) => [name, id]))
  })

  test('a current a box', () => {
    expect(ids(series('Box 1 current [A]', load), series('Box 2 current [A]', load))).toEqual([
      'box_current.1',
      'box_current.2',
    ])
  })
})
