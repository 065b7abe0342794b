import type { Verdict } from '../../shared/review.ts'

/** What can hurt the person at the car: above everything else, in full, at every width. */
export function BeforeTouching({ verdict: { before_touching } }: { verdict: Verdict }) {
  if (before_touching.length === 0) return null
  return (
    <section class="before" aria-labelledby="before-title">
      <h2 id="before-title">Before you touch the car</h2>
      <ul>
        {before_touching.map((each) => (
          <li key={each}>{each}</li>
        ))}
      </ul>
    </section>
  )
}
