import { useMemo, useState } from 'preact/hooks'
import { vehicleSchema } from '../../shared/vehicle.ts'
import { reviewAgain } from '../actions.ts'
import type { ViewProps } from './drive-frame.tsx'
import { VEHICLE_FIELDS, type VehicleField } from './vehicle-fields.ts'
import { atPath, fieldText, fieldValue, withPath } from './vehicle-text.ts'

type Draft = Readonly<Record<string, unknown>>

/** The car as built, field by field; the logs are reviewed again with it. Checked by the vehicle file's own schema. */
export function VehicleForm({ drive }: ViewProps) {
  const given = (drive.vehicle ?? {}) as Draft
  const [draft, setDraft] = useState<Draft>(given)
  const complaints = useMemo(() => complaintsOf(draft), [draft])
  const changed = JSON.stringify(draft) !== JSON.stringify(given)
  const send = async (event: Event) => {
    event.preventDefault()
    if (complaints.size > 0) return
    await reviewAgain(drive.summary.id, { vehicle: draft })
  }
  const filled = (fields: readonly VehicleField[]) =>
    fields.filter((each) => atPath(draft, each.path) !== undefined).length
  return (
    <>
      <h1>Vehicle file</h1>
      <p>Every field may stay empty: what is missing is learned from the log where it can be, and said.</p>
      <form onSubmit={send}>
        {VEHICLE_FIELDS.map(([part, fields], at) => (
          <details key={part} class="panel vehicle-part" open={at === 0}>
            <summary>
              {part}{' '}
              <span class="soft">
                {filled(fields)} of {fields.length} given
              </span>
            </summary>
            <div class="field-grid">
              {fields.map((each) => (
                <Field
                  key={each.path}
                  field={each}
                  value={atPath(draft, each.path)}
                  complaint={complaints.get(each.path)}
                  onChange={(value) => setDraft(withPath(draft, each.path, value))}
                />
              ))}
            </div>
          </details>
        ))}
        <div class="tool-row form-end">
          <button type="submit" class="main" disabled={!changed || complaints.size > 0}>
            Review the drive again with this
          </button>
          <a
            class="button"
            download="vehicle.json"
            href={`data:application/json;charset=utf-8,${encodeURIComponent(`${JSON.stringify(draft, null, 1)}\n`)}`}
          >
            Take away as vehicle.json
          </a>
          <span role="status">
            {complaints.size > 0
              ? `${complaints.size} ${complaints.size === 1 ? 'field is' : 'fields are'} not in the form expected: ${[...complaints.keys()].map(labelOf).join(', ')}.`
              : changed
                ? 'Changed, not yet used.'
                : ''}
          </span>
        </div>
      </form>
    </>
  )
}

const labelOf = (path: string) =>
  VEHICLE_FIELDS.flatMap(([, fields]) => fields).find((each) => each.path === path)?.label ?? path

function Field({
  field,
  value,
  complaint,
  onChange,
}: {
  field: VehicleField
  value: unknown
  complaint: string | undefined
  onChange: (value: unknown) => void
}) {
  const [text, setText] = useState(() => fieldText(value, field.kind))
  const id = `field-${field.path}`
  const change = (next: string) => {
    setText(next)
    onChange(fieldValue(next, field.kind))
  }
  const shared = {
    id,
    value: text,
    'aria-invalid': complaint !== undefined,
    'aria-describedby': `${id}-says`,
  }
  const several = field.kind === 'lists' || field.kind === 'pairs' || field.kind === 'json'
  return (
    <div class="vehicle-field">
      <label for={id}>
        {field.label} {field.unit ? <span class="unit">{field.unit}</span> : null}
      </label>
      {field.kind === 'choice' || field.kind === 'yes-no' ? (
        <select {...shared} onChange={(event) => change(event.currentTarget.value)}>
          <option value="">not given</option>
          {(field.choices ?? ['yes', 'no']).map((choice) => (
            <option key={choice} value={choice}>
              {choice}
            </option>
          ))}
        </select>
      ) : several ? (
        <textarea {...shared} rows={3} onInput={(event) => change(event.currentTarget.value)} />
      ) : (
        <input
          {...shared}
          inputMode={field.kind === 'number' ? 'decimal' : 'text'}
          autoComplete="off"
          onInput={(event) => change(event.currentTarget.value)}
        />
      )}
      <span id={`${id}-says`} class={complaint ? 'complaint' : 'soft'}>
        {complaint ?? field.hint ?? ''}
      </span>
    </div>
  )
}

/** What the schema has against the draft, by the form's field. */
function complaintsOf(draft: Draft): Map<string, string> {
  const parsed = vehicleSchema.safeParse(draft)
  const out = new Map<string, string>()
  if (parsed.success) return out
  const paths = VEHICLE_FIELDS.flatMap(([, fields]) => fields.map((each) => each.path))
  for (const issue of parsed.error.issues) {
    const where = issue.path.join('.')
    const path = paths.find((each) => where === each || where.startsWith(`${each}.`)) ?? where
    if (!out.has(path)) out.set(path, issue.message)
  }
  return out
}
