import type { Channel } from '../../../shared/drive.ts'
import type { Finding, Question, Subject } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { capital } from '../../../shared/wording.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { FEWEST_PEERS } from '../../math/fewest.ts'
import { spansWhere } from '../../math/spans.ts'
import { median } from '../../math/stats.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import {
  type ModuleTemperatures,
  moduleTemperatures,
  type Sensor,
  smallestStep,
} from '../models/module-temperatures.ts'
import { temperatureLimit } from '../models/temperature-limit.ts'

/** A rise is said in kelvin a minute: over a minute at most. */
const WINDOW_S = 60
/** Over less, the sensors' steps are the rise; no source. */
const SHORTEST_S = 30

const LIMIT = 'Did any module pass its temperature limit?'
const RISE = 'Did any module warm too fast?'
const SENSORS = 'Does every temperature sensor read, and move with its peers?'

/** A sensor's own error, K, where the vehicle file does not say better: common practice, no source. */
const SENSOR_ERROR_C = 1

/**
 * Did any sensor pass its limit or rise too fast, and can the sensors be believed?
 *
 * Model: plain limits on readings that were held; no fit.
 * Reads: module_temperature.*, hottest_temperature, coldest_temperature [°C].
 * Gives: `temperature-limit` [°C]: the hottest reading held for two samples and a second (a lone spike is a bad sample, not
 * heat). `temperature-rise-fast` [°C/min]: over a minute, a rise of at least five sensor steps. `temperature-reading-
 * invalid`, `-frozen` [s lost]: samples that cannot be believed; never changing while the peers moved by 3 K.
 * Blind: places between the sensors; a sensor that follows its neighbour instead of its module.
 * Biased by: a sensor’s own lag and place.
 * Source: the vehicle file, else the chemistry’s usual limits (FSAE EV.7.5.2 for 60 °C); rate: common practice, no source.
 */
export function temperatures(facts: Facts): Answer {
  const sensors = family(facts, 'module_temperature')
  const grid = facts.once(moduleTemperatures)
  if (sensors.length === 0 || !grid)
    return {
      questions: [LIMIT, RISE, SENSORS].map((question) =>
        notAssessed(
          'heat',
          question,
          ['module_temperature.1'],
          'no module temperature is logged',
          'Log the module temperatures.',
        ),
      ),
      findings: [],
    }
  const placed = new Map<number, { module: number; sensor: Sensor }>()
  for (const module of grid.modules)
    for (const sensor of module.sensors) placed.set(sensor.number, { module: module.index, sensor })
  const findings: Finding[] = []
  const over = new Map<number, Finding>()
  const fast = new Map<number, Finding>()
  for (const { number, channel } of sensors) {
    const home = placed.get(number)
    if (!home) continue
    const found = ofSensor(facts, grid, number, channel, home)
    keepWorst(over, home.module, found.over)
    keepWorst(fast, home.module, found.fast)
    findings.push(...found.ofItself)
  }
  const step = median([...placed.values()].map(({ sensor }) => sensor.stepC))
  const sensorsFound = findings.some((each) => each.severity !== 'note')
  const limit = temperatureLimit(facts)
  const questions: Question[] = [
    assessed(
      'heat',
      LIMIT,
      over.size > 0,
      `${sensors.length} sensors against ${limit.celsius} °C (${limit.source}).`,
      {
        value: limit.celsius + Math.max(SENSOR_ERROR_C, Number.isFinite(step) ? step : 0),
        unit: '°C',
      },
    ),
    assessed('heat', RISE, fast.size > 0, 'Each sensor\u2019s rise over every minute of the log.', {
      value: Math.max(facts.limits.temperatureRise.attention ?? 10, 5 * (Number.isFinite(step) ? step : 0)),
      unit: '°C/min',
    }),
    sensorQuestion(
      facts,
      grid.timeS,
      [...placed.values()].map(({ sensor }) => sensor),
      sensorsFound,
    ),
  ]
  return { questions, findings: [...over.values(), ...fast.values(), ...findings] }
}

/** What one sensor shows: of its module (over the limit, rising fast), and of itself (invalid, frozen). */
function ofSensor(
  facts: Facts,
  grid: ModuleTemperatures,
  number: number,
  { id, timeS, values }: Channel,
  { module, sensor }: { readonly module: number; readonly sensor: Sensor },
): { over: Finding | null; fast: Finding | null; ofItself: Finding[] } {
  const step = smallestStep(values)
  const name = grid.placedFrom ? `module ${module}, sensor ${number}` : `temperature sensor ${number}`
  const subject: Subject = grid.placedFrom
    ? { type: 'module', index: module }
    : { type: 'channel', index: number, name: id }
  const lost = lostTime(timeS, values)
  const frozen = sensor.frozen_s
  return {
    over: overLimit(facts, subject, name, id, timeS, values, step),
    fast: fastRise(facts, subject, name, id, timeS, values, step),
    ofItself: [
      ...(lost.seconds > 0
        ? [sensorFinding('temperature-reading-invalid', number, name, id, lost.span, lost.seconds, facts)]
        : []),
      ...(frozen
        ? [
            sensorFinding(
              'temperature-reading-frozen',
              number,
              name,
              id,
              frozen,
              frozen[1] - frozen[0],
              facts,
            ),
          ]
        : []),
    ],
  }
}

function keepWorst(kept: Map<number, Finding>, module: number, found: Finding | null): void {
  if (found && (found.value ?? 0) > (kept.get(module)?.value ?? Number.NEGATIVE_INFINITY))
    kept.set(module, found)
}

function overLimit(
  facts: Facts,
  subject: Subject,
  name: string,
  id: string,
  timeS: Float64Array,
  values: Float64Array,
  stepC: number,
): Finding | null {
  const limit = temperatureLimit(facts)
  const period = samplePeriod(timeS)
  const held = spansWhere(timeS, (i) => values[i]! > limit.celsius).filter(
    ([from, to]) => to - from >= Math.max(1, 2 * period),
  )
  if (held.length === 0) return null
  const [from, to] = [held[0]![0], held[held.length - 1]![1]]
  let hottest = Number.NEGATIVE_INFINITY
  for (let i = 0; i < timeS.length; i++)
    if (timeS[i]! >= from && timeS[i]! <= to && values[i]! > hottest) hottest = values[i]!
  return finding({
    kind: 'temperature-limit',
    subject,
    span_s: [from, to],
    value: hottest,
    unit: '°C',
    plusMinus: Math.max(SENSOR_ERROR_C, Number.isFinite(stepC) ? stepC : 0),
    limit: { attention: limit.celsius, stop: limit.celsius, unit: '°C', source: limit.source },
    headline: `${capital(name)} reached ${hottest.toFixed(1)} °C; the limit is ${limit.celsius} °C.`,
    reason: `It read above the limit for ${(to - from).toFixed(0)} s. The interval is the sensor's own error; the hottest place in the module is not under a sensor.`,
    next_step:
      'Let the pack cool with nobody near it, then read the coolant loop (level, pump, air) before the box is opened.',
    cautions: [INSIDE_BOX],
    channels: [id],
  })
}

function fastRise(
  facts: Facts,
  subject: Subject,
  name: string,
  id: string,
  timeS: Float64Array,
  values: Float64Array,
  stepC: number,
): Finding | null {
  const bar = facts.limits.temperatureRise.attention
  if (bar === null || !Number.isFinite(stepC)) return null
  let worst = 0
  let span: Span = [0, 0]
  for (let from = 0, to = 0; to < timeS.length; to++) {
    while (timeS[to]! - timeS[from]! > WINDOW_S) from++
    const seconds = timeS[to]! - timeS[from]!
    // Half a minute at least, and both ends medians of three, so that one bad sample is not a rise.
    if (seconds < SHORTEST_S) continue
    const rise = middleOfThree(values, to) - middleOfThree(values, from)
    const perMinute = (rise * 60) / seconds
    if (rise >= 5 * stepC && perMinute > worst) {
      worst = perMinute
      span = [timeS[from]!, timeS[to]!]
    }
  }
  if (worst <= bar) return null
  return finding({
    kind: 'temperature-rise-fast',
    subject,
    span_s: span,
    value: worst,
    unit: '°C/min',
    plusMinus: (1.96 * stepC * 60) / (span[1] - span[0]),
    limit: facts.limits.temperatureRise,
    headline: `${capital(name)} warmed by ${worst.toFixed(1)} °C a minute.`,
    reason:
      'Cells of this size warm by tenths of a degree a minute on a road drive; so fast a rise is a hot joint at the sensor, a failing cell, or a failing sensor.',
    next_step:
      'Compare with the other sensors of the module and with the cell resistances of this drive; keep away from the pack until it has cooled.',
    cautions: [INSIDE_BOX],
    channels: [id],
  })
}

function middleOfThree(values: Float64Array, at: number): number {
  return median(values.subarray(Math.max(0, at - 1), at + 2))
}

/** Seconds in which a channel gave nothing believable, and the span from the first to the last of them. */
export function lostTime(timeS: Float64Array, values: Float64Array): { seconds: number; span: Span } {
  const spans = spansWhere(timeS, (i) => Number.isNaN(values[i]!))
  const period = samplePeriod(timeS)
  let seconds = 0
  for (const [from, to] of spans) seconds += Math.max(to - from, Number.isFinite(period) ? period : 0)
  return { seconds, span: spans.length > 0 ? [spans[0]![0], spans[spans.length - 1]![1]] : [0, 0] }
}

function sensorFinding(
  kind: 'temperature-reading-invalid' | 'temperature-reading-frozen',
  number: number,
  name: string,
  id: string,
  span: Span,
  seconds: number,
  facts: Facts,
): Finding {
  const invalid = kind === 'temperature-reading-invalid'
  // A frozen reading hides heat. A few lost samples do not: over ten seconds, or a twentieth of the log, does.
  const loud = !invalid || seconds > Math.max(10, 0.05 * facts.drive.durationS)
  return finding({
    kind,
    subject: { type: 'temperature-sensor', index: number },
    span_s: span,
    value: seconds,
    unit: 's',
    plusMinus: 0,
    limit: null,
    severity: loud ? 'attention' : 'note',
    headline: invalid
      ? `${capital(name)} gave nothing believable for ${seconds.toFixed(0)} s.`
      : `${capital(name)} did not move for ${seconds.toFixed(0)} s while its peers did.`,
    reason: invalid
      ? 'Its readings were outside what a sensor can read: an open or shorted sensor lead, or a plug.'
      : `Its peers moved by more than ${facts.limits.frozenTemperaturePeers.attention} K in that time; heat there would not have been seen.`,
    next_step:
      'Measure the sensor\u2019s resistance at the harness plug with the pack isolated, and compare it with its neighbour\u2019s at the same temperature.',
    cautions: [INSIDE_BOX],
    channels: [id],
  })
}

function sensorQuestion(
  facts: Facts,
  timeS: Float64Array,
  sensors: readonly Sensor[],
  found: boolean,
): Question {
  const limit = facts.limits.frozenTemperaturePeers.attention ?? 3
  const peers = timeS.map((_, i) => median(sensors.map((sensor) => sensor.celsius[i]!)))
  const seen = peers.filter(Number.isFinite)
  const moved = seen.length > 0 ? Math.max(...seen) - Math.min(...seen) : 0
  if (!found && (moved < limit || sensors.length < FEWEST_PEERS))
    return notAssessed(
      'heat',
      SENSORS,
      [],
      `The pack moved by ${moved.toFixed(1)} K only, so a stuck sensor would look like the others; every sensor gave readings.`,
      toDrive(
        `drive until the pack has warmed by more than ${limit} K`,
        'when it has, or when any limit comes near',
      ),
      'K',
    )
  return assessed('heat', SENSORS, found, `The pack moved by ${moved.toFixed(1)} K.`, {
    value: limit,
    unit: 'K',
  })
}
