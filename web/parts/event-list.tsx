import type { Review } from '../../shared/review.ts'
import { clockText } from '../../shared/wording.ts'
import { around, showSpan, state } from '../state.ts'

const SHOWN = 200

/** The drive's moments: state changes, faults, clock steps. Each moves the charts there. */
export function EventList({ events }: { events: Review['timeline'] }) {
  if (events.length === 0) return null
  return (
    <details class="events">
      <summary>
        Moments on the drive <span class="number">{events.length}</span>
      </summary>
      <ol>
        {events.slice(0, SHOWN).map((event, at) => (
          <li key={at}>
            <button
              type="button"
              class="row-button"
              onClick={() => {
                showSpan(around([event.at_s - 5, event.at_s + 5]))
                state.set({ cursorS: event.at_s })
              }}
            >
              <span class="tabular">{clockText(event.at_s, true)}</span> {event.what}
            </button>
          </li>
        ))}
      </ol>
      {events.length > SHOWN ? <p>{events.length - SHOWN} more are not listed here.</p> : null}
    </details>
  )
}
