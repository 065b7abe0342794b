import type { Review } from '../../shared/review.ts'
import { clockText, numberText } from '../../shared/wording.ts'
import { figureHeadings, ScrollTable } from '../parts/scroll-table.tsx'
import { go } from '../route.ts'
import { around, showSpan, state } from '../state.ts'

type Regen = NonNullable<Review['regen']>

/** Each brake application with its figures; a button moves the charts there. */
export function Applications({ regen, driveId }: { regen: Regen; driveId: string }) {
  const show = (span: readonly [number, number]) => {
    state.set({
      charts: [
        ['speed'],
        ['brake_pressure', 'brake_pressure_front'],
        ['torque', 'torque_request'],
        ['pack_current', 'charge_limit'],
      ],
    })
    showSpan(around(span))
    go({ page: 'drive', id: driveId, view: 'drive', item: '' })
  }
  return (
    <section>
      <h2>
        Brake applications <span class="number">{regen.applications.length}</span>
      </h2>
      <ScrollTable
        label="Brake applications"
        tall
        headings={[
          { text: 'At' },
          ...figureHeadings(
            'Speed, km/h',
            'Pressure, bar',
            'Regeneration, N·m',
            'Recovered, Wh',
            'Deceleration, m/s²',
            'Charging, A',
          ),
          { text: 'Limited by' },
          { text: 'Show', hidden: true },
        ]}
      >
        {regen.applications.map((row) => (
          <tr key={row.span_s[0]}>
            <td class="tabular">{clockText(row.span_s[0], true)}</td>
            <td class="num">
              {numberText(row.from_kmh)} to {numberText(row.to_kmh)}
            </td>
            <td class="num">{numberText(row.peak_bar)}</td>
            <td class="num">{numberText(row.peak_regen_nm)}</td>
            <td class="num">{numberText(row.recovered_wh)}</td>
            <td class="num">{numberText(row.deceleration_ms2)}</td>
            <td class="num">{numberText(row.peak_charge_a)}</td>
            <td>{row.limited_by ?? '–'}</td>
            <td>
              <button
                type="button"
                class="inline"
                onClick={() => show(row.span_s)}
                aria-label={`Show the application at ${clockText(row.span_s[0])}`}
              >
                Show
              </button>
            </td>
          </tr>
        ))}
      </ScrollTable>
    </section>
  )
}
