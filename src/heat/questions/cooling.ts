import type { Finding, ModuleRow, Question, Subject } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { extremes, mean } from '../../math/stats.ts'
import { heatForecast, possiblyWithin, SOON_S } from '../models/heat-forecast.ts'
import { type ModuleTemperatures, moduleTemperatures } from '../models/module-temperatures.ts'
import { isPoorlyCooled, SIGMAS } from '../models/poorly-cooled.ts'
import { sensorSwaps } from '../models/sensor-swaps.ts'
import { type ModuleHeat, type ThermalFit, thermalFit } from '../models/thermal-fit.ts'

const QUESTION = 'Is any module cooled worse than its peers?'

/** Extra standard errors for a fault that shows 9 times in 10: Φ⁻¹(0.9). */
const NINE_IN_TEN = 1.2816

/**
 * Is any module cooled worse than its peers?
 *
 * Model:  `models/thermal-fit.ts`: each module against its cooling group, so that what all share cancels. A ratio counts
 *         where it is past the limit, its logarithm over 3.3 of its standard errors, and its interval leaves out 1.
 * Reads:  module_temperature.* [°C], pack_current [A], coolant_in, coolant_out [°C]; cooling groups of the vehicle file.
 * Gives:  `module-cooling-poor` [ratio of thermal resistance to its cooling group] and the `modules` section with rise,
 *         hottest reading and a forecast on the drive's own duty.
 * Biased by: what the laws of one store and of two leave out; the spread of healthy peers (both in the interval).
 * Blind:  a group that is cooled badly as a whole; drives that warm the pack by under five steps of its sensors.
 * Source: lumped thermal model (textbook); limit: common practice, no source.
 */
export function cooling(facts: Facts): Answer {
  const grid = facts.once(moduleTemperatures)
  const fit = facts.once(thermalFit)
  if (!grid) {
    const why = 'no module temperature is logged'
    return {
      questions: [
        notAssessed('heat', QUESTION, ['module_temperature.1'], why, 'Log the module temperatures.'),
      ],
      findings: [],
    }
  }
  const modules = grid.modules.map((_, at) => moduleRow(facts, fit, grid, at))
  if (!fit) {
    const why = 'no pack current is logged, so the heat put in is unknown'
    return {
      questions: [
        notAssessed('heat', QUESTION, ['pack_current'], why, 'Log the pack current with the temperatures.'),
      ],
      findings: [],
      sections: { modules },
    }
  }
  const told = fit.modules.filter((module) => module.ratio !== null)
  const bad = told.filter((module) => isPoorlyCooled(facts, module))
  const findings = bad.map((module) => poorlyCooled(facts, grid, fit, module))
  return { questions: [coolingQuestion(facts, fit, bad.length > 0)], findings, sections: { modules } }
}

function poorlyCooled(facts: Facts, grid: ModuleTemperatures, fit: ThermalFit, module: ModuleHeat): Finding {
  const limit = facts.limits.coolingRatio
  const box = facts.vehicle.pack?.box_of_module?.[module.index - 1]
  const where = `${grid.placedFrom ? 'module' : 'temperature sensor'} ${module.index}${box ? ` (${box} box)` : ''}`
  const subject: Subject = grid.placedFrom
    ? { type: 'module', index: module.index, ...(box ? { name: box } : {}) }
    : { type: 'module', name: `at temperature sensor ${module.index}` }
  const at = grid.modules.findIndex((each) => each.index === module.index)
  const forecast = heatForecast(facts, fit, module, grid.modules[at]!.celsius)
  const placed =
    grid.placedFrom === 'pattern of the long busbars'
      ? 'Modules counted by the pattern of the long busbars. '
      : ''
  return finding({
    kind: 'module-cooling-poor',
    subject,
    span_s: [0, facts.drive.durationS],
    value: module.ratio,
    unit: 'ratio',
    low: module.low,
    high: module.high,
    limit,
    headline:
      `${where.charAt(0).toUpperCase()}${where.slice(1)} sheds its heat ${module.ratio!.toFixed(1)} times as slowly as its peers` +
      `${beforeLimit(forecast)}.`,
    reason:
      `${placed}It warmed by ${module.riseC.toFixed(1)} K to ${module.hottestC.toFixed(1)} °C; on the same current its heat leaves ` +
      `${module.low.toFixed(2)} to ${module.high.toFixed(2)} times as slowly as from the middle of ${fit.groupsFrom ? 'its group' : 'all modules'}. ` +
      'A plate without thermal paste, a blocked or kinked branch, or air in it would do this; so would extra heat inside the module.',
    next_step:
      'Compare the coolant hoses of this plate and its neighbour by touch-free thermometer after a drive, then bleed the branch. ' +
      'If nothing shows, the plate\u2019s contact to the cells is next, in the box.',
    cautions: [INSIDE_BOX],
    rivals: [
      {
        kind: 'cell-weak',
        subject,
        likelihood_ratio: null,
        for: 'A cell or joint with more resistance warms a module as well.',
        against: 'The cells\u2019 own resistances tell; see the pack findings of this review.',
        decided_by: 'The cell resistances of the same drive.',
      },
      ...swapRivals(facts, module.index),
    ],
    channels: logged(facts, [...sensorIds(grid, module.index), 'pack_current', 'coolant_in', 'coolant_out']),
  })
}

/** What limits the next drive, where that is soon. */
function beforeLimit(forecast: ReturnType<typeof heatForecast>): string {
  if (!forecast || forecast.earliestS === null || forecast.earliestS > SOON_S) return ''
  return `; the same load would pass its limit of ${forecast.limitC} °C, ${possiblyWithin(forecast.earliestS)}`
}

/** Its sensors may be another module's: said where the readings lean that way, with the ratio of this cause to that. */
function swapRivals(facts: Facts, module: number): Finding['rivals'] {
  const best = facts.once(sensorSwaps)?.tried.find((each) => each.modules.includes(module))
  if (!best || best.logRatio < Math.log(3)) return []
  const other = best.modules.find((each) => each !== module)!
  const [sensor] = best.sensors[0]!
  return [
    {
      kind: 'temperature-sensor-swapped',
      subject: { type: 'temperature-sensor', index: sensor },
      likelihood_ratio: Math.exp(-Math.min(600, best.logRatio)),
      for: `The cells\u2019 resistance, or the sensors\u2019 agreement, fits better with sensors swapped between modules ${module} and ${other}.`,
      against: 'The vehicle file, or the order of the sensors, places them as read.',
      decided_by: 'The sensors\u2019 places, looked up lead by lead, before a lid is opened.',
    },
  ]
}

function coolingQuestion(facts: Facts, fit: ThermalFit, found: boolean): Question {
  const told = fit.modules.filter((module) => module.ratio !== null)
  if (told.length === 0) {
    const why = commonest(fit.modules.flatMap((module) => module.why ?? [])) ?? 'no module could be fitted'
    return notAssessed(
      'heat',
      QUESTION,
      [],
      `Not told by this drive: ${why}.`,
      toDrive(
        'drive until the pack is ten steps of its sensors warmer',
        'when it is, or when any limit comes near',
      ),
    )
  }
  const share = mean(told.map((module) => module.logError))
  const bar = facts.limits.coolingRatio.attention ?? 1.5
  const smallest = Math.max(bar, Math.exp((SIGMAS + NINE_IN_TEN) * share))
  const left = commonest(fit.modules.flatMap((module) => module.why ?? []))
  const missing = fit.modules.length - told.length
  return assessed(
    'heat',
    QUESTION,
    found,
    `${told.length} of ${fit.modules.length} modules compared over the drive${left ? `; ${missing} not: ${left}` : ''}.`,
    { value: smallest, unit: 'ratio' },
  )
}

/** The reason that stands most often. */
function commonest(reasons: readonly string[]): string | null {
  const counts = new Map<string, number>()
  for (const each of reasons) counts.set(each, (counts.get(each) ?? 0) + 1)
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? null
}

function sensorIds(grid: NonNullable<ReturnType<typeof moduleTemperatures>>, index: number): string[] {
  const module = grid.modules.find((each) => each.index === index)
  return (module?.sensors ?? []).map((sensor) => `module_temperature.${sensor.number}`)
}

function moduleRow(
  facts: Facts,
  fit: ThermalFit | null,
  grid: NonNullable<ReturnType<typeof moduleTemperatures>>,
  at: number,
): ModuleRow {
  const module = grid.modules[at]!
  const heat = fit?.modules[at]
  const { low, high } = extremes(module.celsius)
  const first = module.celsius.find((value) => Number.isFinite(value)) ?? Number.NaN
  const step = Math.max(0.1, ...module.sensors.map((sensor) => sensor.stepC || 0))
  const error = step / Math.sqrt(module.sensors.length)
  let spread: number | null = null
  if (module.sensors.length > 1)
    for (let i = 0; i < grid.timeS.length; i++) {
      const range = extremes(module.sensors.map((sensor) => sensor.celsius[i]! - sensor.offsetC))
      if (range.high - range.low > (spread ?? -1)) spread = range.high - range.low
    }
  const seen = Number.isFinite(low)
  const forecast = heat?.ratio != null && fit ? heatForecast(facts, fit, heat, module.celsius) : null
  return {
    index: module.index,
    box: facts.vehicle.pack?.box_of_module?.[module.index - 1] ?? null,
    rise_c: seen ? high - first : null,
    rise_c_plus_minus: seen ? 1.96 * error * Math.SQRT1_2 : null,
    thermal_resistance_ratio: heat?.ratio ?? null,
    thermal_resistance_ratio_plus_minus: heat?.ratioPlusMinus ?? null,
    hottest_c: seen
      ? Math.max(...module.sensors.map((sensor) => extremes(sensor.celsius).high).filter(Number.isFinite))
      : null,
    hottest_c_plus_minus: seen ? Math.max(step, 1) : null,
    spread_c: spread,
    forecast_c: forecast?.settlesC ?? null,
    forecast_c_plus_minus: forecast?.plusMinusC ?? null,
    time_to_limit_s: forecast?.limitS ?? null,
  }
}
