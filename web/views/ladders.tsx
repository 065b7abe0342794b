import type { Charge, PrechargeRow, Start } from '../../shared/review.ts'
import { clockText, lengthText, numberText, sentence, stepWord } from '../../shared/wording.ts'
import { STEP_STATES, StepShape, stepKind } from '../parts/step-shape.tsx'

/** So many attempts stand side by side; of more, the last ones. */
const MOST = 6

/**
 * Attempts to start side by side: steps down, attempts across, each step seen, failed or not seen, with its time after
 * the attempt began. The first step that failed is named in its row.
 */
export function Ladders({
  starts,
  precharge,
  chosen,
  onChoose,
  what = 'Attempts to start',
  wordOf = stepWord,
}: {
  starts: readonly (Start | Charge)[]
  precharge: readonly PrechargeRow[]
  chosen?: number
  onChoose?: (at: number) => void
  what?: string
  wordOf?: (name: string) => string
}) {
  const first = Math.max(0, starts.length - MOST)
  const shown = starts.slice(first)
  const names = [...new Set(shown.flatMap(({ steps }) => steps.map(({ name }) => name)))]
  return (
    <>
      {first > 0 ? (
        <p class="soft">
          The last {MOST} of {starts.length} attempts.
        </p>
      ) : null}
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keys */}
      <section class="ladder-scroll" tabIndex={0} aria-label={`${what}, side by side`}>
        <table class="ladder">
          <thead>
            <tr>
              <th scope="col">Step</th>
              {shown.map((start, i) => (
                <th key={start.span_s[0]} scope="col" aria-label={attemptName(start, first + i)}>
                  {onChoose ? (
                    <button
                      type="button"
                      class="inline tabular"
                      aria-pressed={first + i === chosen}
                      aria-label={attemptName(start, first + i)}
                      onClick={() => onChoose(first + i)}
                    >
                      {clockText(start.span_s[0])}
                    </button>
                  ) : (
                    <span class="tabular">{clockText(start.span_s[0])}</span>
                  )}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {names.map((name) => {
              const failed = shown.some((start) => start.first_failed === name)
              return (
                <tr key={name} class={failed ? 'ladder-failed' : ''}>
                  <th scope="row" class="rung-name">
                    {wordOf(name)}
                  </th>
                  {shown.map((start) => (
                    <Rung key={start.span_s[0]} start={start} name={name} precharge={precharge} />
                  ))}
                </tr>
              )
            })}
          </tbody>
        </table>
      </section>
      <p class="ladder-key">
        {(['held', 'failed', 'unseen'] as const).map((kind) => (
          <span key={kind} class={`rung rung-${kind}`}>
            <StepShape kind={kind} />{' '}
            {kind === 'unseen' ? 'not reached, or not to be seen' : STEP_STATES[kind]}
          </span>
        ))}
      </p>
    </>
  )
}

function Rung({
  start,
  name,
  precharge,
}: {
  start: Start | Charge
  name: string
  precharge: readonly PrechargeRow[]
}) {
  const step = start.steps.find((each) => each.name === name)
  const kind = stepKind(step?.held ?? null)
  return (
    <td class={`rung rung-${kind}`} title={step ? sentence(step.why) : undefined}>
      <StepShape kind={kind} />
      <span class="unseen">{STEP_STATES[kind]}</span>{' '}
      <span class="tabular">{rungText(start, name, precharge)}</span>
    </td>
  )
}

/** The figure of a precharge that failed; else how long after the attempt began, where that is more than at once. */
function rungText(start: Start | Charge, name: string, precharge: readonly PrechargeRow[]): string {
  const step = start.steps.find((each) => each.name === name)
  if (!step || step.held === null) return ''
  const [from, to] = start.span_s
  const run = precharge.find((row) => row.span_s[0] < to + 1 && row.span_s[1] > from - 1)
  if (!step.held && name === 'precharge' && run?.reached_percent != null)
    return `${run.bound === 'at-least' ? '≥ ' : run.bound === 'at-most' ? '≤ ' : ''}${numberText(run.reached_percent)} %`
  if (step.at_s === null || step.at_s - from < 0.05) return ''
  return `+${lengthText(step.at_s - from)}`
}

const attemptName = (start: Start | Charge, at: number) =>
  `Attempt ${at + 1} at ${clockText(start.span_s[0])}`
