import type { WantedSignals } from '../../shared/api.ts'
import { saveFile, signalsFile } from './save-file.ts'
import { ScrollTable } from './scroll-table.tsx'

/** A capture that nobody described: what was seen on its bus, and a table to fill and add to the files. */
export function WantedSignalsPanel({ wanted }: { wanted: WantedSignals }) {
  const { log, frames } = wanted
  return (
    <section class="wanted" aria-labelledby="wanted">
      <h2 id="wanted">{log} holds raw frames: what is in them, only a signal table tells</h2>
      <p>
        {frames.length} identifiers were seen. Save the table, give each row that you know its name, unit and
        factor, leave the others out, and add the file here. The maker of the box or whoever programmed it has
        these figures.
      </p>
      <p>
        <button type="button" class="large" onClick={() => saveFile(signalsFile(wanted.template))}>
          Save the table to fill
        </button>
      </p>
      <ScrollTable
        label={`Identifiers seen in ${log}`}
        tall
        headings={[
          { text: 'Identifier' },
          { text: 'Frames', num: true },
          { text: 'A second', num: true },
          { text: 'Bytes', num: true },
          { text: 'Bytes that change' },
        ]}
      >
        {frames.map(({ identifier, count, rate_hz, length, changing_bytes }) => (
          <tr key={identifier}>
            <th scope="row">{identifier}</th>
            <td class="num">{count}</td>
            <td class="num">{rate_hz === null ? '–' : rate_hz.toPrecision(3)}</td>
            <td class="num">{length}</td>
            <td>{changing_bytes.length === 0 ? 'none' : changing_bytes.join(', ')}</td>
          </tr>
        ))}
      </ScrollTable>
    </section>
  )
}
