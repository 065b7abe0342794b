import type { Box, Reading } from '../boxes.ts'
import type { Samples } from '../measure.ts'
import { type Build, cellsOf } from './build.ts'

/** What the second car's boxes are like. */
export interface SecondStyle {
  readonly cellHz: number
  readonly cellStepV: number
  readonly cellNoiseV: number
  /** One cell after another: this long from the first to the last. */
  readonly scanS: number
  /** Half the time that a converter averages over. */
  readonly averageS: number
  readonly currentHz: number
  readonly currentStepA: number
  readonly currentNoiseA: number
  readonly currentGain: number
  readonly currentOffsetA: number
  /** The current sensor follows this late, first order. */
  readonly currentLagS: number
  readonly temperatureStepC: number
  readonly temperatureHz: number
  readonly vehicleHz: number
  readonly switchHz: number
  readonly held: boolean
  /** The first scan after waking says 0 V, 0.0 °C or 156 °C; seconds of the drive at which boxes wake. */
  readonly wakesAtS: readonly number[]
}

export const SECOND_STYLE: SecondStyle = {
  cellHz: 10,
  cellStepV: 0.001,
  cellNoiseV: 0.0008,
  scanS: 0.08,
  averageS: 0,
  currentHz: 20,
  currentStepA: 0.1,
  currentNoiseA: 0.3,
  currentGain: 0,
  currentOffsetA: 0,
  currentLagS: 0.04,
  temperatureStepC: 0.5,
  temperatureHz: 1,
  vehicleHz: 20,
  switchHz: 10,
  held: false,
  wakesAtS: [],
}

const numbered = (id: string, count: number): string[] =>
  Array.from({ length: count }, (_, k) => `${id}.${k + 1}`)

/** One logger that hears everything, or one box a pack box with `apart`. */
export function secondBoxes(build: Build, changes: Partial<SecondStyle> = {}): Box[] {
  const style = { ...SECOND_STYLE, ...changes }
  const own = style.held ? { held: true } : {}
  const { vehicleHz: rateHz, switchHz } = style
  const battery = { ...own, node: 'battery' }
  const vehicle = { ...own, node: 'vehicle' }
  const inverter = { ...own, node: 'inverter' }
  const shown = build.functions.shown
  const readings: Reading[] = [
    {
      ...vehicle,
      channels: [
        'key_on',
        'charge_plug',
        'interlock_closed',
        'inertia_closed',
        'brake_switch',
        'brake_lamp',
        'selector',
      ],
      rateHz: switchHz,
    },
    {
      ...battery,
      channels: ['contactor_precharge', 'contactor_positive', 'contactor_negative'],
      rateHz: switchHz,
    },
    { ...inverter, channels: ['drive_ready', 'inverter_state'], rateHz: switchHz },
    { ...battery, channels: ['bms_state'], rateHz: switchHz },
    ...(shown ? [{ ...vehicle, channels: ['cruise_active', 'hold_active'], rateHz: switchHz }] : []),
    ...(build.road.ratios.length > 1 ? [{ ...vehicle, channels: ['gear'], rateHz: switchHz }] : []),
    { ...battery, channels: ['pack_voltage'], rateHz: style.cellHz, step: 0.1, noise: 0.06 },
    {
      ...battery,
      channels: ['pack_current'],
      rateHz: style.currentHz,
      step: style.currentStepA,
      gain: style.currentGain,
      offset: style.currentOffsetA,
      noise: style.currentNoiseA,
      filterS: style.currentLagS,
      clip: [-600, 600],
    },
    { ...inverter, channels: ['link_voltage'], rateHz, step: 0.1, noise: 0.25 },
    { ...inverter, channels: ['torque_request', 'torque'], rateHz, step: 0.1, noise: 0.2 },
    { ...inverter, channels: ['motor_speed'], rateHz, step: 1, noise: 1.5 },
    { ...vehicle, channels: ['pedal_track_1', 'pedal_track_2'], rateHz, step: 0.005, noise: 0.004 },
    { ...vehicle, channels: ['pedal_position'], rateHz, step: 0.5 },
    { ...vehicle, channels: ['brake_pressure'], rateHz, step: 0.01, noise: 0.12 },
    { ...vehicle, channels: ['speed'], rateHz: Math.min(rateHz, 20), step: 0.1, noise: 0.04 },
    { ...battery, channels: ['isolation_resistance'], rateHz: 1, step: 10, noise: 8 },
    { ...battery, channels: ['charge_limit', 'discharge_limit'], rateHz: 1, step: 1 },
    { ...battery, channels: ['soc'], rateHz: 1, step: 0.1 },
    { ...vehicle, channels: ['lv_voltage'], rateHz: 5, step: 0.01, noise: 0.015 },
    { ...vehicle, channels: ['dcdc_current'], rateHz: 1, step: 0.1, noise: 0.1 },
    { ...vehicle, channels: ['coolant_in', 'coolant_out'], rateHz: 1, step: 0.5, noise: 0.05 },
    { ...inverter, channels: ['inverter_temperature', 'motor_temperature'], rateHz: 1, step: 1 },
    {
      ...battery,
      channels: numbered('cell_voltage', cellsOf(build)),
      rateHz: style.cellHz,
      scanS: Math.min(style.scanS, 0.95 / style.cellHz),
      filterS: style.averageS,
      step: style.cellStepV,
      noise: style.cellNoiseV,
    },
    {
      ...battery,
      channels: numbered('module_temperature', build.cells.perModule.length * build.heat.sensorsPerModule),
      rateHz: style.temperatureHz,
      step: style.temperatureStepC,
      noise: 0.05,
    },
  ]
  return [{ name: 'drive', rowHz: Math.max(rateHz, style.currentHz, style.cellHz, switchHz), readings }]
}

/** First readings after waking: one scan of 0 V, 0.0 °C and 156 °C in turn. */
export function withWakes(samples: readonly Samples[], wakesAtS: readonly number[]): Samples[] {
  if (wakesAtS.length === 0) return [...samples]
  return samples.map((each) => {
    const cell = each.id.startsWith('cell_voltage.')
    if (!cell && !each.id.startsWith('module_temperature.')) return each
    const number = Number(each.id.slice(each.id.lastIndexOf('.') + 1))
    const values = each.values.slice()
    for (const wake of wakesAtS) {
      const at = each.timeS.findIndex((t) => t >= wake)
      if (at < 0) continue
      let next = at
      while (next < values.length && (next === at || each.fresh?.[next] === 0)) next++
      values.fill(cell ? 0 : number % 2 === 0 ? 156 : 0, at, next)
    }
    return { ...each, values }
  })
}
