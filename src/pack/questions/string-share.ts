import { packCurrent } from '../../car/pack-current.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { linearAt } from '../../samples/on-one-clock.ts'

const QUESTION = 'How do parallel strings share the current?'
/** Their sum and the pack's current are one figure within this; no source. */
const SAME_SHARE = 0.1
/** Less tells no share, A; and rows. */
const LEAST_A = 10
const FEWEST = 50
/** Rows hang together for about so many. */
const TOGETHER = 20

/**
 * How do parallel strings share the current?
 *
 * Model:  string current = share · pack current + zero, a line over moments with over 10 A; only where the strings' shares
 *         add up to the pack within 10 % (boxes in series each carry all of it).
 * Reads:  box_current.* [A, either sign], pack_current [A, discharge positive].
 * Gives:  a figure in the question's words, no finding: nobody publishes how even strings must be.
 * Biased by: the sensors' gains, 2 % each, which look like a share.
 * Blind:  currents that circle between strings at rest.
 * Source: Kirchhoff's current law.
 */
export function stringShare(facts: Facts): Answer {
  const strings = family(facts, 'box_current')
  const current = facts.once(packCurrent)
  const none = (why: string): Answer => ({
    questions: [
      notAssessed(
        'pack',
        QUESTION,
        [
          ...(strings.length > 1 ? [] : (['box_current'] as const)),
          ...(current ? [] : (['pack_current'] as const)),
        ],
        why,
        strings.length > 1 ? null : 'Log the current of each string, where strings are in parallel.',
        '%',
      ),
    ],
    findings: [],
  })
  if (strings.length < 2 || !current) return none('fewer than two strings’ currents are in the log')
  const kept = [...current.timeS.keys()].filter((i) => Math.abs(current.amperes[i]!) > LEAST_A)
  const at = Float64Array.from(kept, (i) => current.timeS[i]!)
  const amps = Float64Array.from(kept, (i) => current.amperes[i]!)
  const read = strings.map(({ channel }) => linearAt(channel, at, 2))
  const rows = [...at.keys()].filter((i) => read.every((each) => Number.isFinite(each[i]!)))
  if (rows.length < FEWEST) return none('over 10 A flowed for too short a time')
  const shares = read.map((own) => {
    const line = leastSquares(
      [rows.map(() => 1), rows.map((i) => amps[i]!)],
      rows.map((i) => own[i]!),
    )
    const share = Math.abs(line?.coefficients[1] ?? Number.NaN)
    const error = (line?.standardErrors[1] ?? Number.NaN) * Math.sqrt(TOGETHER)
    return { share, plusMinus: Math.hypot(1.96 * error, (current.gainPercent / 100) * share) }
  })
  const sum = shares.reduce((total, { share }) => total + share, 0)
  if (!(Math.abs(sum - 1) < SAME_SHARE))
    return none('the boxes’ currents do not add up to the pack’s: they are in series, or not all logged')
  const said = shares.map(
    ({ share, plusMinus }, k) =>
      `string ${strings[k]!.number} ${(100 * share).toFixed(1)} ± ${(100 * plusMinus).toFixed(1)} %`,
  )
  const widest = Math.max(...shares.map(({ plusMinus }) => plusMinus))
  return {
    questions: [
      assessed('pack', QUESTION, false, `${said.join(', ')} of the current.`, {
        value: 100 * widest,
        unit: '%',
      }),
    ],
    findings: [],
  }
}
