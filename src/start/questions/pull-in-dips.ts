import type { Finding } from '../../../shared/review.ts'
import { capital } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { lvLimits } from '../models/lv-limits.ts'
import { type LvStart, lvStarts } from '../models/lv-starts.ts'
import { contactorTrack, samplesIn, startSignals } from '../models/start-signals.ts'

/**
 * Does the 12 V supply dip when a contactor pulls in, a pump or a fan starts, and does anything fall because of it?
 *
 * Model: the lowest 12 V reading within half a second of each start (`lvStarts`), and how far that is under the median of
 *   the second before it; what fell in the two seconds after it: a contactor opening again with the key on, or a node
 *   silent on the bus.
 * Reads: lv_voltage [V], contactor_*, coolant_pump, pump_duty, fan_duty [%], key_on, the bus's nodes.
 * Gives: `lv-dip-at-pull-in` [V]: attention where something fell after it, else a note.
 * Biased by: where 12 V is measured, and readings too slow for the dip.
 * Blind: a dip between two readings: a coil pulls in for some 50 ms.
 * Source: limit: a volt under the 12 V limit, common practice, no source.
 */
export function pullInDips(facts: Facts): Answer {
  const ask = 'Does the 12 V supply hold when a contactor pulls in?'
  const lv = facts.drive.channels.get('lv_voltage')
  const closings = facts.once(lvStarts)
  const seen = closings
    .map((each) => ({ ...each, ...samplesIn(lv, each.change.earliestS, each.change.atS + PULL_IN_S) }))
    .filter(({ values }) => values.length > 0)
  if (seen.length === 0) {
    const missing = unlogged(facts, ['lv_voltage', 'contactor_positive'])
    const why =
      missing.length > 0
        ? 'the 12 V voltage or the contactors are not logged'
        : 'no 12 V reading falls on a contactor closing'
    return {
      questions: [notAssessed('start', ask, missing, why, 'Log the 12 V voltage at 20 Hz or faster.', 'V')],
      findings: [],
    }
  }
  const bar = lvLimits(facts).low.attention! - 1
  const dips = seen
    .map((each) => ({ ...each, lowV: Math.min(...each.values) }))
    .filter(({ lowV }) => lowV < bar)
  const question = assessed(
    'start',
    ask,
    dips.length > 0,
    `${seen.length} starts with a 12 V reading, the lowest ${Math.min(...seen.flatMap(({ values }) => [...values])).toFixed(2)} V. ${sags(facts, seen)}`,
    { value: bar, unit: 'V', measured: Math.min(...seen.flatMap(({ values }) => [...values])) },
  )
  if (dips.length === 0) return { questions: [question], findings: [] }
  return { questions: [question], findings: [dipFinding(facts, dips, seen.length, bar)] }
}

interface Dip extends LvStart {
  readonly lowV: number
}

/** How far 12 V sank at each kind of start, in words: the median of them. */
function sags(facts: Facts, seen: readonly (LvStart & { values: Float64Array })[]): string {
  const lv = facts.drive.channels.get('lv_voltage')
  return [...new Set(seen.map(({ what }) => what))]
    .flatMap((what) => {
      const own = seen.filter((each) => each.what === what)
      const sunk = own.map(({ change, values }) => {
        const before = samplesIn(lv, change.earliestS - 1, change.earliestS - 1e-3).values
        return before.length > 0 ? median(before) - Math.min(...values) : Number.NaN
      })
      const middle = median(sunk)
      return Number.isFinite(middle)
        ? [
            `${capital(what)}: ${Math.max(0, middle).toFixed(2)} V deep${own.length > 1 ? `, ${own.length} times` : ''}.`,
          ]
        : []
    })
    .join(' ')
}

/** The deepest dip, and what fell after any of them. */
function dipFinding(facts: Facts, dips: readonly Dip[], closings: number, bar: number): Finding {
  const worst = dips.reduce((a, b) => (b.lowV < a.lowV ? b : a))
  const fell = dips.map(({ change }) => fallAfter(facts, change.atS)).find((what) => what !== null) ?? null
  return finding({
    kind: 'lv-dip-at-pull-in',
    subject: { type: 'supply' },
    span_s: [worst.change.earliestS, worst.change.atS + PULL_IN_S],
    value: worst.lowV,
    unit: 'V',
    bound: 'at-most',
    plusMinus: 0.1,
    limit: { attention: bar, stop: null, unit: 'V', source: 'common practice, no source' },
    bad: 'below',
    severity: fell ? 'attention' : 'note',
    headline: `The 12 V supply dips to ${worst.lowV.toFixed(1)} V when ${worst.what}`,
    reason: `${dips.length} of ${closings} starts dip under ${bar} V${fell ? `; ${fell}` : '; nothing fell after them'}.`,
    next_step:
      '12 V battery under load, its earth strap and the fuse of the contactor supply, with a meter while the key is turned on.',
    cautions: [DC_LINK],
    channels: logged(facts, [
      'lv_voltage',
      'contactor_positive',
      'contactor_negative',
      'contactor_precharge',
      'coolant_pump',
      'pump_duty',
      'fan_duty',
    ]),
  })
}

/** A coil pulls in and its supply recovers within this, s. Common practice, no source. */
const PULL_IN_S = 0.5
const AFTER_S = 2

/** What fell soon after a closing, in words; null where nothing did. */
function fallAfter(facts: Facts, atS: number): string | null {
  const node = facts.drive.buses
    .flatMap((bus) => bus.nodes)
    .find(({ silent_span_s: span }) => span !== null && span[0] > atS - 0.2 && span[0] < atS + AFTER_S)
  if (node) return `node ${node.name} fell silent at ${node.silent_span_s![0].toFixed(2)} s`
  const { key } = facts.once(startSignals)
  const keyOff = key?.changes.some((c) => c.value === 0 && c.earliestS < atS + AFTER_S && c.atS > atS)
  if (keyOff) return null
  for (const name of ['negative', 'positive'] as const) {
    const opened = contactorTrack(facts, name)?.changes.find(
      (c, i) => i > 0 && c.value === 0 && c.atS > atS && c.atS < atS + AFTER_S,
    )
    if (opened) return `the ${name} contactor opened again at ${opened.atS.toFixed(2)} s`
  }
  return null
}
