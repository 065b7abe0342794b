import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { correlation } from '../../math/correlation.ts'
import { mean } from '../../math/stats.ts'
import { moduleTemperatures } from '../models/module-temperatures.ts'

const QUESTION = 'Do the modules warm in the order in which the coolant is said to reach them?'
/** Fewer modules in a row lie in some order by chance; the coolant must have warmed by so much along them, K; no source. */
const FEWEST = 5
const LEAST_K = 1.5
/** Rank against the stated order: so far the other way is the other way. Of five modules in a row 1 in 40 by chance. */
const TURNED = -0.9

/**
 * Do the modules warm in the order in which the coolant is said to reach them?
 *
 * Model:  downstream modules meet warmer coolant: how much each rose over the drive, ranked, against its place in
 *         `cooling_order`; correlation of ranks (Spearman).
 * Reads:  module_temperature.* [°C]; `cooling_order` of the vehicle file.
 * Gives:  `vehicle-file-disagrees`, a note, where a row of five or more runs the other way.
 * Biased by: end modules that lose more to the air, one poorly cooled module (ranks bound it).
 * Blind:  loops whose coolant hardly warms; order by who warms first in a step of the inlet's temperature.
 * Source: first law along the loop; limits: common practice, no source.
 */
export function coolingOrder(facts: Facts): Answer {
  const rows = (facts.vehicle.pack?.cooling_order ?? []).filter((row) => row.length >= FEWEST)
  const grid = rows.length > 0 ? facts.once(moduleTemperatures) : null
  const seen = grid
    ? rows.flatMap((row) => {
        const rises = row.map((number) => riseOf(grid.modules.find((each) => each.index === number)?.celsius))
        return rises.every(Number.isFinite) ? [{ row, ...along(rises) }] : []
      })
    : []
  const telling = seen.filter(({ spanK }) => spanK > LEAST_K)
  if (telling.length === 0) {
    const missing = unlogged(facts, ['module_temperature'])
    const why =
      rows.length === 0
        ? `the vehicle file gives no row of ${FEWEST} modules along the coolant (cooling_order)`
        : missing.length > 0
          ? 'no module temperatures are in the log'
          : 'the modules did not rise far enough apart to show the coolant’s way'
    const to = rows.length === 0 ? 'Give cooling_order in the vehicle file, upstream first.' : null
    return { questions: [notAssessed('heat', QUESTION, missing, why, to)], findings: [] }
  }
  const turned = telling.filter(({ ranks }) => ranks < TURNED)
  const why = telling.map(
    ({ row, ranks, spanK }) =>
      `modules ${row[0]} to ${row.at(-1)}: ${spanK.toFixed(1)} K apart, ${ranks > 0 ? 'with' : 'against'} the order (${ranks.toFixed(2)})`,
  )
  return {
    questions: [
      assessed('heat', QUESTION, turned.length > 0, `${why.join('; ')}.`, { value: LEAST_K, unit: 'K' }),
    ],
    findings: turned.slice(0, 1).map((each) => say(facts, each)),
  }
}

/** Mean of the last tenth less that of the first; NaN without. */
function riseOf(celsius: Float64Array | undefined): number {
  if (!celsius) return Number.NaN
  const tenth = Math.max(1, Math.floor(celsius.length / 10))
  return mean(celsius.subarray(-tenth)) - mean(celsius.subarray(0, tenth))
}

function along(rises: readonly number[]): { ranks: number; spanK: number } {
  const sorted = [...rises].sort((a, b) => a - b)
  const ranks = rises.map((rise) => sorted.indexOf(rise))
  return {
    ranks: correlation(
      Float64Array.from(ranks),
      Float64Array.from(rises, (_, i) => i),
    ).r,
    spanK: sorted.at(-1)! - sorted[0]!,
  }
}

function say(
  facts: Facts,
  { row, ranks, spanK }: { row: readonly number[]; ranks: number; spanK: number },
): Finding {
  return finding({
    kind: 'vehicle-file-disagrees',
    subject: { type: 'pack' },
    span_s: [0, facts.drive.durationS],
    value: ranks,
    unit: '',
    limit: null,
    severity: 'note',
    question: QUESTION,
    headline: `Modules ${row[0]} to ${row.at(-1)} warm in the order opposite to the vehicle file’s cooling_order`,
    reason: `They rose ${spanK.toFixed(1)} K apart, most where the coolant is said to come first: the hoses are the other way round, or the file is.`,
    next_step:
      'Follow the hoses from the pump to the first plate, and put cooling_order right where it is wrong.',
    channels: row.map((number) => `module_temperature.${number}`),
  })
}
