import { state } from '../state.ts'
import { useStore } from '../store.ts'

/** What went wrong, in the server's one sentence; and what is under way. */
export function ErrorBar() {
  const error = useStore(state, (now) => now.error)
  const busy = useStore(state, (now) => now.busy)
  return (
    <div class="status-area">
      <div role="alert">
        {error === null ? null : (
          <div class="error-bar">
            <strong>This did not work.</strong> <span>{error}</span>
            <button type="button" onClick={() => state.set({ error: null })}>
              Close
            </button>
          </div>
        )}
      </div>
      {busy === null ? null : (
        <div class="busy-bar">
          <label>
            {busy.doing} <progress max="1" value={busy.share} />
          </label>
          <span class="tabular">{Math.round(busy.share * 100)} %</span>
          <button type="button" onClick={busy.stop}>
            Cancel
          </button>
        </div>
      )}
    </div>
  )
}
