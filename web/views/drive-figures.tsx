import type { Review } from '../../shared/review.ts'
import { sentence } from '../../shared/wording.ts'
import { type Figure, FiguresList } from '../parts/figures-list.tsx'

/** Energy and extremes of the drive, each with its interval where there is one. */
export function DriveFigures({ review: { energy, drive } }: { review: Review }) {
  const { peak } = drive
  const figures: Figure[] = [
    { name: 'Energy out', value: energy.out_wh, plusMinus: energy.out_wh_plus_minus, unit: 'Wh' },
    { name: 'Energy back in', value: energy.in_wh, plusMinus: energy.in_wh_plus_minus, unit: 'Wh' },
    { name: 'Net', value: energy.net_wh, plusMinus: energy.net_wh_plus_minus, unit: 'Wh' },
    { name: 'Per distance', value: energy.wh_per_km, plusMinus: energy.wh_per_km_plus_minus, unit: 'Wh/km' },
    { name: 'Charge out', value: energy.ah_out, plusMinus: energy.ah_out_plus_minus, unit: 'Ah' },
    { name: 'Highest current', value: peak.current_a, unit: 'A' },
    { name: 'Highest charging current', value: peak.charge_current_a, unit: 'A' },
    { name: 'Current, rms', value: peak.rms_current_a, unit: 'A' },
    { name: 'Highest power', value: peak.power_w === null ? null : peak.power_w / 1000, unit: 'kW' },
    { name: 'Pack voltage lost at the highest current', value: peak.sag_v, unit: 'V' },
    { name: 'Lowest cell', value: peak.lowest_cell_v, unit: 'V' },
    { name: 'Highest cell', value: peak.highest_cell_v, unit: 'V' },
    { name: 'Hottest sensor', value: peak.hottest_c, unit: '°C' },
    { name: 'Highest speed', value: peak.speed_kmh, unit: 'km/h' },
  ]
  return (
    <section aria-labelledby="figures-title">
      <h2 id="figures-title">Figures of the drive</h2>
      <div class="panel">
        <FiguresList figures={figures} />
      </div>
    </section>
  )
}

/** What the isolation monitor read, scaled to the pack's voltage. */
export function IsolationFigures({ isolation }: { isolation: Review['isolation'] }) {
  if (!isolation) return null
  return (
    <section class="panel" aria-labelledby="isolation-title">
      <h2 id="isolation-title">Isolation</h2>
      <FiguresList
        figures={[
          {
            name: `Median${isolation.side ? `, ${isolation.side} side` : ''}`,
            value: isolation.ohm_per_volt,
            plusMinus: isolation.ohm_per_volt_plus_minus,
            unit: 'Ω/V',
          },
          { name: 'Lowest', value: isolation.lowest_ohm_per_volt, unit: 'Ω/V' },
          { name: 'Worked against', value: isolation.highest_working_v, unit: 'V' },
          { name: 'Trend', value: isolation.trend_percent_per_h, unit: '% an hour' },
        ]}
      />
      {isolation.note ? <p>{sentence(isolation.note)}</p> : null}
    </section>
  )
}
