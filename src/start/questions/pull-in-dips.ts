import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK } from '../../facts/cautions.ts'
import { type Facts, logged, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { type ContactorName, contactorTrack, samplesIn, startSignals } from '../models/start-signals.ts'

/**
 * Does the 12 V supply dip when a contactor pulls in, and does anything fall because of it?
 *
 * Model: the lowest 12 V reading within half a second of each contactor closing; what fell in the two seconds after
 *   it: a contactor opening again with the key on, or a node silent on the bus.
 * Reads: lv_voltage [V], contactor_*, key_on, the bus's nodes.
 * Gives: `lv-dip-at-pull-in` [V]: attention where something fell after it, else a note.
 * Biased by: where 12 V is measured, and readings too slow for the dip.
 * Blind: a dip between two readings: a coil pulls in for some 50 ms.
 * Source: limit: a volt under the 12 V limit, common practice, no source.
 */
export function pullInDips(facts: Facts): Answer {
  const ask = 'Does the 12 V supply hold when a contactor pulls in?'
  const lv = facts.drive.channels.get('lv_voltage')
  const closings = NAMES.flatMap((name) =>
    (contactorTrack(facts, name)?.changes ?? [])
      .filter((change, i) => i > 0 && change.value === 1)
      .map((change) => ({ name, change })),
  ).sort((a, b) => a.change.atS - b.change.atS)
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
  const bar = (facts.limits.lvVoltage.attention ?? 10.5) - 1
  const dips = seen
    .map((each) => ({ ...each, lowV: Math.min(...each.values) }))
    .filter(({ lowV }) => lowV < bar)
  const question = assessed(
    'start',
    ask,
    dips.length > 0,
    `${seen.length} closings with a 12 V reading, the lowest ${Math.min(...seen.flatMap(({ values }) => [...values])).toFixed(2)} V`,
    { value: bar, unit: 'V', measured: Math.min(...seen.flatMap(({ values }) => [...values])) },
  )
  if (dips.length === 0) return { questions: [question], findings: [] }
  return { questions: [question], findings: [dipFinding(facts, dips, seen.length, bar)] }
}

interface Dip {
  readonly name: ContactorName
  readonly change: { readonly atS: number; readonly earliestS: number }
  readonly lowV: number
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
    headline: `The 12 V supply dips to ${worst.lowV.toFixed(1)} V when the ${worst.name} contactor pulls in`,
    reason: `${dips.length} of ${closings} closings dip under ${bar} V${fell ? `; ${fell}` : '; nothing fell after them'}.`,
    next_step:
      '12 V battery under load, its earth strap and the fuse of the contactor supply, with a meter while the key is turned on.',
    cautions: [DC_LINK],
    channels: logged(facts, [
      'lv_voltage',
      'contactor_positive',
      'contactor_negative',
      'contactor_precharge',
    ]),
  })
}

const NAMES: readonly ContactorName[] = ['negative', 'precharge', 'positive']
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
