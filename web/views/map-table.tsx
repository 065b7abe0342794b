import { tableCsv } from '../../shared/map-table.ts'
import type { MapTable } from '../../shared/review.ts'
import { numberText } from '../../shared/wording.ts'
import { figureHeadings, ScrollTable } from '../parts/scroll-table.tsx'

/** A proposed map as a table to type into the controller, and as files. */
export function TypeIn({ table }: { table: MapTable }) {
  const percent = table.pressure.some((each) => each.percent !== null)
  return (
    <>
      <ScrollTable
        label="Table to type in"
        headings={figureHeadings(
          'Pressure, bar',
          'In all, N·m',
          'Brake part, N·m',
          ...(percent ? ['Of the controller, %'] : []),
        )}
      >
        {table.pressure.map((each) => (
          <tr key={each.bar}>
            <td class="num">{numberText(each.bar)}</td>
            <td class="num">{numberText(each.total_nm)}</td>
            <td class="num">{numberText(each.brake_nm)}</td>
            {percent ? (
              <td class="num">{each.percent === null ? '\u2013' : numberText(each.percent)}</td>
            ) : null}
          </tr>
        ))}
      </ScrollTable>
      <p class="soft">
        Fade of the brake part:{' '}
        {table.fade.map((each) => `${numberText(each.percent)} % at ${numberText(each.kmh)} km/h`).join(', ')}
        . Straight between the points this keeps the map to within {numberText(table.error_nm)} N·m; beyond{' '}
        {numberText(table.up_to_bar)} bar nothing was seen.{' '}
        <a download="map.csv" href={`data:text/csv;charset=utf-8,${encodeURIComponent(tableCsv(table))}`}>
          As CSV
        </a>{' '}
        <a
          download="map.json"
          href={`data:application/json;charset=utf-8,${encodeURIComponent(JSON.stringify(table, null, 2))}`}
        >
          As JSON
        </a>
      </p>
    </>
  )
}
