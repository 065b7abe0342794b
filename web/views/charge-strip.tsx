import { PHASE_WORDS } from '../../shared/charge-wording.ts'
import type { ChargeSession, Holder } from '../../shared/review.ts'
import { capital, clockText, holderWord, lengthText, numberText } from '../../shared/wording.ts'

/** Kilowatts over a charge, and beneath them, on the same time, its phases and who held the current back. */
export function ChargeStrip({ session }: { session: ChargeSession }) {
  const [from, to] = session.span_s
  const length = Math.max(1e-6, to - from)
  const most = session.power.reduce((top, [, pack, wall]) => Math.max(top, pack ?? 0, wall ?? 0), 0)
  if (!(most > 0)) return null
  const wall = session.power.some(([, , watts]) => watts !== null)
  return (
    <figure class="charge-strip">
      <figcaption>
        Power, up to {numberText(most / 1000)} kW: <span class="key-pack">into the pack</span>
        {wall ? (
          <>
            , <span class="key-wall">from the wall</span>
          </>
        ) : null}
      </figcaption>
      <svg viewBox="0 0 1000 100" preserveAspectRatio="none" role="img" aria-label={inWords(session, most)}>
        <path class="power-pack" d={outline(session, 1, most, true)} />
        {wall ? <path class="power-wall" d={outline(session, 2, most, false)} /> : null}
      </svg>
      <Bands
        name="Phases"
        from={from}
        length={length}
        bands={session.phases.map(({ type, span_s }) => ({
          look: type,
          words: capital(PHASE_WORDS[type]),
          span_s,
        }))}
      />
      <Bands
        name="Held by"
        from={from}
        length={length}
        bands={session.held.map(({ by, span_s }) => ({ look: LOOKS[by], words: heldBy(by), span_s }))}
      />
      <div class="overview-scale tabular">
        <span>{clockText(from)}</span>
        <span>{clockText(from + length / 2)}</span>
        <span>{clockText(to)}</span>
      </div>
    </figure>
  )
}

const heldBy = (by: Holder) => (by === 'pause' ? 'Nothing flowing' : capital(holderWord(by)))

/** What is as it should be is plain; what holds a charge back beyond its own plan is set off. */
const LOOKS: Readonly<Record<Holder, string>> = {
  'as-asked': 'plain',
  voltage: 'own',
  'highest-cell': 'own',
  warmest: 'own',
  coldest: 'own',
  'battery-unit': 'own',
  charger: 'back',
  cable: 'back',
  pilot: 'back',
  pause: 'pause',
  'not-told': 'plain',
}

function Bands({
  name,
  from,
  length,
  bands,
}: {
  name: string
  from: number
  length: number
  bands: readonly { look: string; words: string; span_s: readonly [number, number] }[]
}) {
  return (
    <>
      <p class="charge-band-name">{name}</p>
      <ul class="charge-bands" aria-label={name}>
        {bands.map(({ look, words, span_s: [a, b] }) => (
          <li
            key={a}
            class={`charge-band charge-${look}`}
            style={{ left: `${(100 * (a - from)) / length}%`, width: `${(100 * (b - a)) / length}%` }}
            title={`${words}, ${clockText(a)} to ${clockText(b)}`}
          >
            <span>{words}</span>
            <span class="unseen"> for {lengthText(b - a)}</span>
          </li>
        ))}
      </ul>
    </>
  )
}

function outline(
  { power, span_s: [from, to] }: ChargeSession,
  which: 1 | 2,
  most: number,
  closed: boolean,
): string {
  const points = power.flatMap((each) => {
    const watts = each[which]
    if (watts === null) return []
    const x = (1000 * (each[0] - from)) / Math.max(1e-6, to - from)
    return [`${x.toFixed(1)} ${(98 - (94 * Math.max(0, watts)) / most).toFixed(1)}`]
  })
  if (points.length === 0) return ''
  return closed ? `M0 98L${points.join('L')}L1000 98Z` : `M${points.join('L')}`
}

const inWords = ({ phases, held }: ChargeSession, most: number): string =>
  `Power over the charge, up to ${numberText(most / 1000)} kW. ${phases
    .map(({ type, span_s: [a, b] }) => `${PHASE_WORDS[type]} ${lengthText(b - a)}`)
    .join(', ')}. Held by: ${held
    .slice(0, 12)
    .map(({ by, span_s: [a, b] }) => `${heldBy(by)} ${lengthText(b - a)}`)
    .join(', ')}.`
