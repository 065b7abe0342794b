import { useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import type { RegenMap } from '../../shared/review.ts'
import { writeMap } from '../api.ts'
import { hrefOf } from '../route.ts'
import { fail } from '../state.ts'

/** Notes in the car's record that this map was set in its controller: the next stored drive is held against it. */
export function KeepMap({ drive, map }: { drive: DriveAnswer; map: RegenMap }) {
  const [by, setBy] = useState('')
  const [kept, setKept] = useState(false)
  const car = drive.summary.car?.trim()
  if (!car) return <p class="soft">Name the car of this drive to keep the map with its record.</p>
  const href = hrefOf({ page: 'car', car })
  if (kept)
    return (
      <p role="status">
        Kept with <a href={href}>{car}</a>: the next stored drive is compared with it.
      </p>
    )
  const keep = (event: Event): void => {
    event.preventDefault()
    const tried = { at: new Date().toISOString(), by: by.trim(), map, about: '', drive: drive.summary.id }
    writeMap(car, tried).then(() => setKept(true), fail)
  }
  return (
    <form class="deed-form" aria-label="This map was set in the car" onSubmit={keep}>
      <label class="field">
        Set in the car by
        <input value={by} maxLength={200} required onInput={(event) => setBy(event.currentTarget.value)} />
      </label>
      <button type="submit">Keep with the car’s record</button>
    </form>
  )
}
