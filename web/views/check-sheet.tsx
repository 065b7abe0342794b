import type { Review } from '../../shared/review.ts'
import { onceInFull, sentence } from '../../shared/wording.ts'

/** What to look at next, with what, what to expect, and what each outcome tells; what the log tells already comes last. */
export function CheckSheet({ rows }: { rows: Review['check_sheet'] }) {
  if (rows.length === 0) return null
  const said = new Set<string>()
  return (
    <section aria-labelledby="sheet-title">
      <h2 id="sheet-title">Check sheet</h2>
      <ol class="check-sheet">
        {rows.map((row, at) => (
          <li key={at} class={row.known ? 'known' : ''}>
            <label class="check-line">
              <input type="checkbox" checked={row.known !== null} disabled={row.known !== null} />
              <strong class={row.known ? 'crossed-off' : ''}>
                {at + 1}. {sentence(row.what)}
              </strong>
            </label>
            <div class="check-body">
              <dl>
                <dt>With</dt>
                <dd>{sentence(row.instrument)}</dd>
                <dt>Expect</dt>
                <dd>{sentence(row.expect)}</dd>
                <dt>It tells</dt>
                <dd>{sentence(row.tells)}</dd>
                {row.known ? (
                  <>
                    <dt>Known already</dt>
                    <dd>{sentence(row.known)}</dd>
                  </>
                ) : null}
              </dl>
              {row.cautions.length === 0 ? null : (
                <ul class="check-cautions" aria-label="Take care">
                  {row.cautions.map((caution) => (
                    <li key={caution}>{onceInFull(caution, said)}</li>
                  ))}
                </ul>
              )}
            </div>
          </li>
        ))}
      </ol>
    </section>
  )
}
