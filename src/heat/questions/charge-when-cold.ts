import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Limit } from '../../../shared/limits.ts'
import type { Finding, Subject } from '../../../shared/review.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import { type PackCurrent, packCurrent, UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type AnyId, channel, type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { heldRuns } from '../../math/held.ts'
import { median } from '../../math/stats.ts'
import { heldAt } from '../../samples/on-one-clock.ts'

const QUESTION = 'Was the pack charged while a cell was too cold for it?'
/** Charging current that counts, and for how long at a time. Common practice, no source. */
const LEAST_A = 3
const HELD_S = 1
/** A sensor this much colder than the next coldest is doubted, not believed. */
const ALONE_C = 10
/** Accuracy of a module's sensor. Common practice, no source. */
const SENSOR_C = 0.5

/**
 * Did current flow into the pack, from a charger or from regeneration, while a believed sensor was below the lowest
 * temperature for charging?
 *
 * Model:  −I > 3 A (or its noise and zero's uncertainty) for over 1 s while the coldest believed sensor < limit.
 *         A sensor over 10 K below the next one is not believed.
 * Reads:  pack_current [A, discharge positive], module_temperature.* or coldest_temperature [°C].
 * Gives:  `charge-when-cold`: the coldest temperature at which charging current flowed, °C.
 * Biased by: a sensor at the plate, which reads colder than the cell; the current’s zero (in the bar).
 * Blind:  cells colder than any sensor.
 * Source: vehicle file, else 0 °C (usual lithium-ion window; lithium can plate below it).
 */
export function chargeWhenCold(facts: Facts): Answer {
  const current = facts.once(packCurrent)
  const cold = coldest(facts)
  if (!current || !cold || current.sign === 'unproved') {
    const missing: AnyId[] = [
      ...(current ? [] : (['pack_current'] as const)),
      ...(cold ? [] : (['module_temperature'] as const)),
    ]
    const why =
      missing.length > 0
        ? `not in the log: ${missing.join(', ')}`
        : 'nothing in the log proves which sign of the current is charging'
    const toAssess = missing.length > 0 ? `Log ${missing.join(' and ')}.` : null
    return { questions: [notAssessed('pack', QUESTION, missing, why, toAssess, '°C')], findings: [] }
  }
  const { minChargeC, chargeSource } = facts.once(cellLimits)
  const limit: Limit = { attention: null, stop: minChargeC, unit: '°C', source: chargeSource }
  const found = flowWhenCold(current, cold.at, minChargeC)
  const least = leastA(current)
  const why = `Charger and regeneration both count, over ${least.toFixed(1)} A for ${HELD_S} s; limit ${minChargeC} °C (${chargeSource}).`
  return {
    questions: [
      assessed('pack', QUESTION, found !== null, why, { value: SENSOR_C, unit: '°C below the limit' }),
    ],
    findings: found ? [say(facts, found, limit, cold.ids)] : [],
  }
}

const leastA = (current: PackCurrent): number =>
  Math.max(LEAST_A, 3 * current.noiseA + (current.zeroPlusMinusA ?? UNLEARNED_ZERO_A))

interface Cold {
  readonly ids: readonly string[]
  at(timeS: Float64Array): { readonly celsius: Float64Array; readonly sensor: Int32Array }
}

/** Coldest believed sensor at each moment; null without temperatures. `sensor` is 0 where it has no number. */
function coldest(facts: Facts): Cold | null {
  const places = facts.vehicle.pack?.sensor_place_of_sensor
  const sensors = family(facts, 'module_temperature').filter(({ number }) => places?.[number - 1] !== 'air')
  const single = channel(facts, 'coldest_temperature')
  const read: { number: number; channel: Channel }[] =
    sensors.length > 0 ? sensors : single ? [{ number: 0, channel: single }] : []
  if (read.length === 0) return null
  return {
    ids: read.map((each) => each.channel.id),
    at: (timeS) => {
      const all = read.map((each) => heldAt(each.channel, timeS, 60))
      const celsius = new Float64Array(timeS.length).fill(Number.NaN)
      const sensor = new Int32Array(timeS.length)
      for (let i = 0; i < timeS.length; i++) {
        const order = all
          .map((values, at) => ({ value: values[i]!, number: read[at]!.number }))
          .filter(({ value }) => Number.isFinite(value))
          .sort((a, b) => a.value - b.value)
        const doubted = order.length > 1 && order[1]!.value - order[0]!.value > ALONE_C
        const chosen = order[doubted ? 1 : 0]
        if (!chosen) continue
        celsius[i] = chosen.value
        sensor[i] = chosen.number
      }
      return { celsius, sensor }
    },
  }
}

interface Flow {
  readonly fromS: number
  readonly toS: number
  readonly celsius: number
  readonly sensor: number
  readonly amperes: number
}

function flowWhenCold(current: PackCurrent, at: Cold['at'], limitC: number): Flow | null {
  // temperatures move slowly: looked up once a second
  const seconds = Float64Array.from(
    { length: Math.ceil(current.timeS[current.timeS.length - 1]!) + 1 },
    (_, i) => i,
  )
  const { celsius, sensor } = at(seconds)
  if (!celsius.some((value) => value < limitC)) return null
  const { timeS, amperes } = current
  const least = leastA(current)
  const now = (i: number): number => celsius[Math.round(timeS[i]!)]!
  const charging = amperes.map((value) => -value)
  const runs = heldRuns(timeS, charging, (i) => charging[i]! > least && now(i) < limitC, HELD_S, 1)
  let coldestRun: Flow | null = null
  for (const run of runs) {
    const low = now(run.first)
    if (coldestRun && low >= coldestRun.celsius) continue
    coldestRun = {
      fromS: timeS[run.first]!,
      toS: timeS[run.last]!,
      celsius: low,
      sensor: sensor[Math.round(timeS[run.first]!)]!,
      amperes: median(charging.subarray(run.first, run.last + 1)),
    }
  }
  return coldestRun
}

function say(facts: Facts, flow: Flow, limit: Limit, ids: readonly string[]): Finding {
  const module = facts.vehicle.pack?.sensors_of_module?.findIndex((list) => list.includes(flow.sensor)) ?? -1
  const id: ChannelId = flow.sensor > 0 ? `module_temperature.${flow.sensor}` : 'coldest_temperature'
  const subject: Subject = module >= 0 ? { type: 'module', index: module + 1 } : { type: 'channel', name: id }
  return finding({
    kind: 'charge-when-cold',
    subject,
    span_s: [flow.fromS, flow.toS],
    value: flow.celsius,
    unit: '°C',
    plusMinus: Math.max(SENSOR_C, channel(facts, id)?.step ?? 0),
    limit,
    bad: 'below',
    headline: `${flow.amperes.toFixed(0)} A went into the pack at ${flow.celsius.toFixed(1)} °C.`,
    reason: `The coldest believed sensor was below ${limit.stop} °C while current flowed in; regeneration counts as charging.`,
    next_step:
      'Set the charge limit, and with it regeneration, to zero below the cells’ lowest charging temperature; warm the pack before charging.',
    cautions: ['Do not charge below the cells’ lowest charging temperature.'],
    channels: ['pack_current', ...(ids.includes(id) ? [id] : ids)],
  })
}
