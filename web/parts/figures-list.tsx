import { withInterval } from '../../shared/wording.ts'

export interface Figure {
  readonly name: string
  readonly value: number | null
  readonly plusMinus?: number | null
  readonly unit: string
  readonly note?: string
  readonly bound?: 'exact' | 'at-least' | 'at-most'
}

/** Named figures with intervals; one that the log cannot tell says so. */
export function FiguresList({ figures }: { figures: readonly Figure[] }) {
  return (
    <dl class="figures">
      {figures.map(({ name, value, plusMinus = null, unit, note, bound = 'exact' }) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd class={value === null ? 'soft' : 'tabular'}>
            {value === null
              ? 'cannot be told'
              : `${bound === 'exact' ? '' : bound === 'at-least' ? 'at least ' : 'at most '}${withInterval(value, plusMinus, unit)}`}
            {note ? <span class="soft"> {note}</span> : null}
          </dd>
        </div>
      ))}
    </dl>
  )
}
