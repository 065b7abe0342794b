import type { CarAnswer } from '../../shared/car-answer.ts'
import { VERDICT_WORDS } from '../../shared/map-outcome.ts'
import { numberText, sentence, withInterval } from '../../shared/wording.ts'
import { figureHeadings, ScrollTable } from '../parts/scroll-table.tsx'

type Outcome = CarAnswer['maps'][number]

/** Maps that were set in the car, the newest first: at each breakpoint what was asked, predicted and measured. */
export function MapsTried({ maps }: { maps: CarAnswer['maps'] }) {
  if (maps.length === 0) return null
  return (
    <section aria-labelledby="maps-tried">
      <h2 id="maps-tried">Regeneration maps that were set</h2>
      {maps.toReversed().map((each) => (
        <div key={each.at} class="panel">
          <h3>
            From {numberText(each.map.start_bar)} to {numberText(each.map.full_bar)} bar,{' '}
            {numberText(each.map.max_nm)} N·m ({each.at.slice(0, 10)}, {each.by})
          </h3>
          <p class={each.points.some(({ verdict }) => verdict === 'more') ? 'caution-line' : undefined}>
            {each.title ? <b>{each.title}: </b> : null}
            {each.sentence}
          </p>
          {each.title ? <Points of={each} /> : null}
          {each.figures.length > 0 ? <Figures of={each} /> : null}
        </div>
      ))}
    </section>
  )
}

function Points({ of }: { of: Outcome }) {
  return (
    <ScrollTable
      label="Asked, predicted, measured"
      headings={[
        ...figureHeadings('Pressure, bar', 'Before, N·m', 'Asked, N·m', 'Predicted, N·m', 'Measured, N·m'),
        { text: 'Verdict' },
      ]}
    >
      {of.points.map((each) => (
        <tr key={each.bar}>
          <td class="num">{numberText(each.bar)}</td>
          <td class="num">{numberText(each.before_nm)}</td>
          <td class="num">{numberText(each.asked_nm)}</td>
          <td class="num">{told(each.predicted_nm, each.predicted_nm_plus_minus)}</td>
          <td class="num">{told(each.measured_nm, each.measured_nm_plus_minus)}</td>
          <td>
            {each.verdict === 'more' ? '\u25a0 ' : ''}
            {sentence(VERDICT_WORDS[each.verdict])}
            {each.verdict === 'less' ? ` ${sentence(each.why)}` : ''}
          </td>
        </tr>
      ))}
    </ScrollTable>
  )
}

function Figures({ of }: { of: Outcome }) {
  return (
    <ScrollTable
      label="Figures before, predicted, measured"
      headings={[{ text: 'Figure' }, ...figureHeadings('Before', 'Predicted', 'Measured')]}
    >
      {of.figures.map((each) => (
        <tr key={each.what}>
          <th scope="row">
            {sentence(each.what).replace(/\.$/, '')}, {each.unit}
          </th>
          <td class="num">{numberText(each.before)}</td>
          <td class="num">{told(each.predicted, each.predicted_plus_minus)}</td>
          <td class="num">{told(each.measured, each.measured_plus_minus)}</td>
        </tr>
      ))}
    </ScrollTable>
  )
}

const told = (value: number | null, plusMinus: number | null): string =>
  value === null ? '\u2013' : withInterval(value, plusMinus, '')
