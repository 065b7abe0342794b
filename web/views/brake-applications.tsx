import type { Review } from '../../shared/review.ts'
import { clockText, fixedText, placesOf } from '../../shared/wording.ts'
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
  const rows = regen.applications
  const places = {
    bar: placesOf(rows.map((row) => row.peak_bar)),
    nm: placesOf(rows.map((row) => row.peak_regen_nm)),
    wh: placesOf(rows.map((row) => row.recovered_wh)),
    ms2: placesOf(rows.map((row) => row.deceleration_ms2)),
    a: placesOf(rows.map((row) => row.peak_charge_a)),
  }
  return (
    <section>
      <h2>
        Brake applications <span class="number">{rows.length}</span>
      </h2>
      <ScrollTable
        label="Brake applications"
        tall
        headings={[
          { text: 'At' },
          ...figureHeadings(
            'From, km/h',
            'To, km/h',
            'Most pressure, bar',
            'Most regeneration, N·m',
            'Recovered, Wh',
            'Mean deceleration, m/s²',
            'Most charging, A',
          ),
          { text: 'Limited by' },
          { text: 'Show', hidden: true },
        ]}
      >
        {rows.map((row) => (
          <tr key={row.span_s[0]}>
            <td class="tabular">{clockText(row.span_s[0], true)}</td>
            <td class="num">{fixedText(row.from_kmh, 0)}</td>
            <td class="num">{fixedText(row.to_kmh, 0)}</td>
            <td class="num">{fixedText(row.peak_bar, places.bar)}</td>
            <td class="num">{fixedText(row.peak_regen_nm, places.nm)}</td>
            <td class="num">{fixedText(row.recovered_wh, places.wh)}</td>
            <td class="num">{fixedText(row.deceleration_ms2, places.ms2)}</td>
            <td class="num">{fixedText(row.peak_charge_a, places.a)}</td>
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
