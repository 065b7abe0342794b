import { useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { CATALOGUE, catalogueEntry } from '../../shared/channels.ts'
import type { Review } from '../../shared/review.ts'
import { reviewAgain } from '../actions.ts'

const COMMON_UNITS =
  'V mV A mA W kW °C °F K bar mbar kPa MPa psi km/h mph m/s m/s² N·m rpm kΩ MΩ Ω mΩ % s ms'.split(' ')

/** Says what the column really is; the logs are then read again. */
export function CorrectColumn({
  row,
  drive,
  column,
}: {
  row: Review['channels'][number]
  drive: DriveAnswer
  column: string
}) {
  const before = drive.corrections[column]
  const [channel, setChannel] = useState(before?.channel ?? (catalogueEntry(row.id) ? row.id : ''))
  const [unit, setUnit] = useState(before?.unit ?? row.unit_in ?? '')
  const [remember, setRemember] = useState(true)
  const [complaint, setComplaint] = useState('')
  const send = async (event: Event) => {
    event.preventDefault()
    const id = channel.trim()
    if (id !== '' && !catalogueEntry(id)) {
      setComplaint(`There is no channel "${id}". Take one from the list, or leave the field empty.`)
      return
    }
    const corrections = { [column]: { channel: id === '' ? null : id, unit: unit === '' ? null : unit } }
    await reviewAgain(drive.summary.id, { corrections, remember })
  }
  return (
    <form class="correct" onSubmit={send}>
      <label class="field">
        This column is
        <input
          list="catalogue"
          value={channel}
          placeholder="no known channel"
          autoComplete="off"
          onInput={(event) => setChannel(event.currentTarget.value)}
        />
      </label>
      <datalist id="catalogue">
        {CATALOGUE.map((entry) => (
          <option key={entry.id} value={entry.numbered ? `${entry.id}.1` : entry.id}>
            {entry.label}
            {entry.unit ? `, ${entry.unit}` : ''}
          </option>
        ))}
      </datalist>
      <label class="field">
        logged in
        <select value={unit} onChange={(event) => setUnit(event.currentTarget.value)}>
          <option value="">the unit read from the log</option>
          {[...new Set([...(unit ? [unit] : []), ...COMMON_UNITS])].map((each) => (
            <option key={each} value={each}>
              {each}
            </option>
          ))}
        </select>
      </label>
      <label class="check-line">
        <input
          type="checkbox"
          checked={remember}
          onChange={(event) => setRemember(event.currentTarget.checked)}
        />
        Remember for logs with the same columns
      </label>
      <button type="submit" class="main">
        Read the logs again
      </button>
      <p role="alert" class="complaint">
        {complaint}
      </p>
    </form>
  )
}
