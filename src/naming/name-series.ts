import type { RawSeries } from '../importers/raw-log.ts'

export interface Named {
  readonly series: RawSeries
  readonly id: string
  readonly sureness: number
  readonly why: string
}

const RULES: readonly [RegExp, string][] = [
  [/^cell ?(volt)? ?(\d+)/, 'cell_voltage.$2'],
  [/^(module temp|mod ?temp|t mod|module temperature|module temp sensor) ?\D*(\d+)/, 'module_temperature.$2'],
  [/key/, 'key_on'],
  [/plug/, 'charge_plug'],
  [/interlock|hvil/, 'interlock_closed'],
  [/inertia/, 'inertia_closed'],
  [/brake (switch|sw)/, 'brake_switch'],
  [/selector|gear sel/, 'selector'],
  [/precharge|k pre/, 'contactor_precharge'],
  [/(positive|pos) ?contactor|k pos/, 'contactor_positive'],
  [/(negative|neg) ?contactor|k neg/, 'contactor_negative'],
  [/drive ready|rtd/, 'drive_ready'],
  [/pack voltage|pack v|batt volt/, 'pack_voltage'],
  [/pack current|pack i|batt curr/, 'pack_current'],
  [/link/, 'link_voltage'],
  [/iso/, 'isolation_resistance'],
  [/12v|lv batt/, 'lv_voltage'],
  [/dc[- ]?dc/, 'dcdc_current'],
  [/speed kmh|vehicle speed/, 'speed'],
  [/torque request|trq req/, 'torque_request'],
  [/motor torque|trq act/, 'torque'],
  [/motor speed|motor rpm/, 'motor_speed'],
  [/(track|apps) ?1/, 'pedal_track_1'],
  [/(track|apps) ?2/, 'pedal_track_2'],
  [/accelerator position|apps pct/, 'pedal_position'],
  [/brake (pressure|kpa)/, 'brake_pressure'],
  [/dis ?charge (current )?lim|dch lim|max discharge/, 'discharge_limit'],
  [/charge (current )?lim|chg lim|max charge/, 'charge_limit'],
  [/coolant inlet|cool in/, 'coolant_in'],
  [/coolant outlet|cool out/, 'coolant_out'],
  [/inverter temp|t inv/, 'inverter_temperature'],
  [/motor temp|t mot/, 'motor_temperature'],
  [/state of charge|soc/, 'soc'],
  [/bms state/, 'bms_state'],
  [/inv(erter)? state/, 'inverter_state'],
]

/** First cut: by words alone. */
export function nameSeries(all: readonly RawSeries[]): Named[] {
  return all.map((series) => {
    if (series.channel) return { series, id: series.channel, sureness: 1, why: 'named by the signal table' }
    const words = series.name
      .replace(/([a-z])([A-Z])/g, '$1 $2')
      .toLowerCase()
      .replace(/_+/g, ' ')
    for (const [rule, id] of RULES) {
      const match = rule.exec(words)
      if (match)
        return {
          series,
          id: id.replace('$2', () => String(Number(match[2]))),
          sureness: 0.8,
          why: `its words match ${id}`,
        }
    }
    return { series, id: series.name, sureness: 0, why: 'no catalogue name fits' }
  })
}
