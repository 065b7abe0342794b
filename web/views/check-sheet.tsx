import type { Review } from '../../shared/review.ts'

/** What to look at next, with what, what to expect, and what each outcome tells. */
export function CheckSheet({ rows }: { rows: Review['check_sheet'] }) {
  if (rows.length === 0) return null
  return (
    <section aria-labelledby="sheet-title">
      <h2 id="sheet-title">Check sheet</h2>
      <ol class="check-sheet">
        {rows.map((row, at) => (
          <li key={at} class={row.known ? 'known' : ''}>
            <label class="check-line">
              <input type="checkbox" checked={row.known !== null} disabled={row.known !== null} />
              <strong class={row.known ? 'crossed-off' : ''}>{row.what}</strong>
            </label>
            <p>
              <b>With:</b> {row.instrument} · <b>Expect:</b> {row.expect}
            </p>
            <p>
              <b>It tells:</b> {row.tells}
            </p>
            {row.known ? <p>Known from the log: {row.known}</p> : null}
            {row.cautions.map((caution) => (
              <p key={caution} class="caution-line">
                ■ {caution}
              </p>
            ))}
          </li>
        ))}
      </ol>
    </section>
  )
}
