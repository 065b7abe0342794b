import type { Start as StartRow } from '../../shared/review.ts'
import { clockText, sentence, stepWord } from '../../shared/wording.ts'
import { STEP_STATES, StepShape, stepKind } from '../parts/step-shape.tsx'

/** Each step of one attempt: what became of it, when, against earlier starts, and what shows it. */
export function Steps({
  steps,
  wordOf = stepWord,
}: {
  steps: StartRow['steps']
  wordOf?: (name: string) => string
}) {
  return (
    <ul class="steps">
      {steps.map((step) => {
        const kind = stepKind(step.held)
        return (
          <li key={step.name}>
            <span class={`rung rung-${kind}`}>
              <StepShape kind={kind} /> <strong>{wordOf(step.name)}</strong> {STEP_STATES[kind]}
            </span>
            <span>
              {step.at_s === null ? '' : `${clockText(step.at_s, true)}: `}
              {sentence(step.why)}
              {step.earlier
                ? ` Took ${step.earlier.took_s.toFixed(2)} s, earlier ${step.earlier.median_s.toFixed(2)} s (${step.earlier.low_s.toFixed(2)} to ${step.earlier.high_s.toFixed(2)}).`
                : ''}
            </span>
          </li>
        )
      })}
    </ul>
  )
}
