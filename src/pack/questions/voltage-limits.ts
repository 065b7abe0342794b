import type { Channel } from '../../../shared/drive.ts'
import type { Limit } from '../../../shared/limits.ts'
import type { Finding, Subject } from '../../../shared/review.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import { cellSum } from '../../car/cell-sum.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { type HeldRun, heldRuns, worstRun } from '../../math/held.ts'
import { sampleNoise } from '../../math/sample-noise.ts'
import { extremes, median } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'
import { CELL_HIGH_V, CELL_LOW_V } from '../../samples/sum-of-cells.ts'

/** A cell's reading and its share of the pack's agree to this; no source. */
const APART_V = 0.3
/** No cell's voltage steps farther between two samples; no source. */
const JUMP_V = 0.5

const QUESTION = 'Did any cell leave its voltage limits?'
/** A reading past the limit must last this long (Formula Student T11.7.8: over 500 ms). */
const HELD_S = 0.5
/** Readings closer to the limit than this are not told apart from it. Common practice, no source. */
const LEAST_V = 0.005
/** More cells than this past one limit are named in the worst one's finding. */
const NAMED = 3

interface Breach {
  readonly cell: number
  readonly channel: Channel
  readonly run: HeldRun
  readonly way: 1 | -1
  readonly marginV: number
}

/**
 * Did any cell read past its highest or lowest voltage for longer than half a second?
 *
 * Model:  reading > limit + margin on every fresh sample over 0.5 s (or two samples of a slower log); margin: the
 *         larger of 5 mV, one step and two spreads of the reading. A cell whose reading strays over 0.3 V from the
 *         mean while pack voltage does not follow is a false reading and left to `cell-reading-invalid`.
 * Reads:  cell_voltage.* [V], else lowest_ and highest_cell_voltage with their cell numbers; pack_voltage [V].
 * Gives:  `cell-voltage-limit` per cell, V, with the reading's resolution as its interval.
 * Biased by: a joint read with the cell, whose drop is not the cell’s (named as its cause).
 * Blind:  shorter dips, cells that are not logged, the error of the battery unit's own measurement.
 * Source: limits of the vehicle file, else usual for the chemistry; hold time Formula Student T11.7.8.
 */
export function voltageLimits(facts: Facts): Answer {
  const limits = facts.once(cellLimits)
  const cells = family(facts, 'cell_voltage')
  const extremesOnly = cells.length === 0
  const lowest = facts.drive.channels.get('lowest_cell_voltage')
  const highest = facts.drive.channels.get('highest_cell_voltage')
  const read: Read[] = extremesOnly
    ? [
        ...(highest ? [{ number: 0, channel: highest, ways: [1] as const }] : []),
        ...(lowest ? [{ number: 0, channel: lowest, ways: [-1] as const }] : []),
      ]
    : cells.map((cell) => ({ ...cell, ways: [1, -1] as const }))
  if (read.length === 0) {
    const toAssess = 'Log each cell voltage, or at least the lowest and highest with their numbers.'
    return {
      questions: [
        notAssessed('pack', QUESTION, ['cell_voltage'], 'no cell voltage in the log', toAssess, 'V'),
      ],
      findings: [],
    }
  }
  const { breaches, margins } = breachesOf(facts, read, cells.length)
  const findings = ([1, -1] as const).flatMap((way) => {
    const limit: Limit = {
      attention: null,
      stop: way > 0 ? limits.maxV : limits.minV,
      unit: 'V',
      source: way > 0 ? limits.voltSource.max : limits.voltSource.min,
    }
    const all = breaches
      .filter((breach) => breach.way === way)
      .sort((a, b) => (b.run.level - a.run.level) * way)
    return all.slice(0, NAMED).map((breach, at) => say(facts, breach, limit, at === 0 ? all.length - 1 : 0))
  })
  const why = `${extremesOnly ? 'Lowest and highest cell' : `${cells.length} cells`} against ${limits.minV} V (${limits.voltSource.min}) and ${limits.maxV} V (${limits.voltSource.max}), held over ${HELD_S} s.`
  return {
    questions: [
      assessed('pack', QUESTION, findings.length > 0, why, {
        value: median(margins),
        unit: 'V past the limit',
      }),
    ],
    findings,
    assumptions: [
      { what: 'Lowest cell voltage allowed', value: limits.minV, unit: 'V', source: limits.voltSource.min },
      { what: 'Highest cell voltage allowed', value: limits.maxV, unit: 'V', source: limits.voltSource.max },
    ],
  }
}

interface Read {
  /** 0 where it is the lowest or highest of unnamed cells. */
  readonly number: number
  readonly channel: Channel
  readonly ways: readonly (1 | -1)[]
}

/** Readings held beyond a limit by more than noise; and the margins that noise asks for, where it was learned, V. */
function breachesOf(
  facts: Facts,
  read: readonly Read[],
  logged: number,
): { breaches: Breach[]; margins: number[] } {
  const limits = facts.once(cellLimits)
  const breaches: Breach[] = []
  const margins: number[] = []
  for (const { number, channel, ways } of read) {
    const { timeS, values } = freshSamples(channel)
    const reach = extremes(values)
    const near = reach.high > limits.maxV || reach.low < limits.minV
    // noise costs a sort: learned for the first cell and for those that come near a limit
    const noise = near || margins.length === 0 ? sampleNoise(values) : 0
    const marginV = Math.max(LEAST_V, channel.step, Number.isFinite(noise) ? 2 * noise : 0)
    if (near || margins.length === 0) margins.push(marginV)
    if (!near) continue
    for (const way of ways) {
      const limit = way > 0 ? limits.maxV : limits.minV
      const past = (i: number): boolean =>
        values[i]! > CELL_LOW_V && values[i]! < CELL_HIGH_V && (values[i]! - limit) * way > marginV
      const runs = heldRuns(timeS, values, past, HELD_S, way).filter(
        (run) => number === 0 || believed(facts, { timeS, values }, run, logged),
      )
      const run = worstRun(runs, way)
      if (run) breaches.push({ cell: number, channel: { ...channel, timeS, values }, run, way, marginV })
    }
  }
  return { breaches, margins }
}

/** Does the pack voltage follow the reading? A lead that has come off moves the reading alone. */
function believed(
  facts: Facts,
  samples: { timeS: Float64Array; values: Float64Array },
  run: HeldRun,
  logged: number,
): boolean {
  const sum = facts.once(cellSum)
  if (!sum || logged < FEWEST_PEERS) return true
  const at = samples.timeS.subarray(run.first, run.last + 1)
  const summed = linearAt({ timeS: sum.timeS, values: sum.volts }, at, 5)
  const apart = median(
    summed.map((volts, i) => {
      const own = samples.values[run.first + i]!
      return own - (volts - own) / (sum.cells - 1)
    }),
  )
  if (!(Math.abs(apart) > APART_V)) return true
  const pack = facts.drive.channels.get('pack_voltage')
  if (!pack || !sum.complete) {
    const before = samples.values[run.first - 1]
    return (
      before === undefined || Math.abs(samples.values[run.first]! - before) < JUMP_V || Math.abs(apart) < 1
    )
  }
  const usual = median(linearAt(pack, sum.timeS, 5).map((volts, i) => sum.volts[i]! - volts))
  const now = median(linearAt(pack, at, 5).map((volts, i) => summed[i]! - volts))
  return Math.abs(now - usual) < 0.5 * Math.abs(apart)
}

function say(facts: Facts, breach: Breach, limit: Limit, others: number): Finding {
  const { channel, run, way, marginV } = breach
  const numbers = facts.drive.channels.get(way > 0 ? 'highest_cell_number' : 'lowest_cell_number')
  const cell =
    breach.cell > 0 ? breach.cell : numbers ? heldAt(numbers, [channel.timeS[run.first]!])[0]! : Number.NaN
  const subject: Subject =
    Number.isInteger(cell) && cell > 0 ? { type: 'cell', index: cell } : { type: 'cell' }
  const name = subject.index === undefined ? 'A cell' : `Cell ${subject.index}`
  const lasted = channel.timeS[run.last]! - channel.timeS[run.first]!
  const more = others > 0 ? ` ${others} more ${others === 1 ? 'cell was' : 'cells were'} past it too.` : ''
  return finding({
    kind: 'cell-voltage-limit',
    subject,
    span_s: [channel.timeS[run.first]!, channel.timeS[run.last]!],
    value: run.level,
    unit: 'V',
    plusMinus: Math.max(channel.step, marginV > LEAST_V ? marginV : 0.001),
    limit,
    bad: way > 0 ? 'above' : 'below',
    headline: `${name} read ${run.level.toFixed(3)} V, ${way > 0 ? 'above' : 'below'} its limit of ${Number(limit.stop!.toFixed(3))} V.`,
    reason: `It stayed past the limit for ${lasted.toFixed(1)} s.${more}`,
    next_step:
      way > 0
        ? 'Find why charging or regeneration was not cut back: compare the charge limit with the current at that moment. Read the cell with a second meter before any further charging.'
        : 'Leave the pack off and read the cell with a second meter at rest. Compare the discharge limit with the current at that moment.',
    cautions:
      way > 0
        ? [INSIDE_BOX]
        : [
            'Do not charge a cell that is below its minimum voltage; follow the pack maker’s procedure.',
            INSIDE_BOX,
          ],
    channels: [channel.id],
  })
}
