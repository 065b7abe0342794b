import type { Finding, ModuleRow, Question, Subject } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import type { Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { extremes, mean } from '../../math/stats.ts'
import { moduleTemperatures } from '../models/module-temperatures.ts'
import { sensorSwaps } from '../models/sensor-swaps.ts'
import { temperatureLimit } from '../models/temperature-limit.ts'
import { type ModuleHeat, type ThermalFit, thermalFit } from '../models/thermal-fit.ts'

const QUESTION = 'Is any module cooled worse than its peers?'

/** Beyond this many of its own standard errors a ratio counts: held over all modules of a pack together. */
const SIGMAS = 3.3
/** Extra standard errors for a fault that shows 9 times in 10: Φ⁻¹(0.9). */
const NINE_IN_TEN = 1.2816

/**
 * Is any module cooled worse than its peers?
 *
 * Model and blind spots: `models/thermal-fit.ts`. Gives `module-cooling-poor` [ratio of thermal resistance to the
 * median of its cooling group] and the `modules` section with rise, hottest reading and a forecast on the drive's own
 * duty. A ratio counts where it is past the limit and over 3.3 of its standard errors from 1, and its
 * interval leaves out 1.
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
  const bad = told.filter((module) => poor(facts, module))
  const findings = bad.map((module) => {
    const limit = facts.limits.coolingRatio
    const box = facts.vehicle.pack?.box_of_module?.[module.index - 1]
    const where = `${grid.placedFrom ? 'module' : 'temperature sensor'} ${module.index}${box ? ` (${box} box)` : ''}`
    const subject: Subject = grid.placedFrom
      ? { type: 'module', index: module.index, ...(box ? { name: box } : {}) }
      : { type: 'module', name: `at temperature sensor ${module.index}` }
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
      plusMinus: module.ratioPlusMinus,
      limit,
      headline: `Cooling of ${where} is ${module.ratio!.toFixed(1)} times as resistive as its peers'.`,
      reason:
        `${placed}It warmed by ${module.riseC.toFixed(1)} K to ${module.hottestC.toFixed(1)} °C; on the same current its heat leaves ` +
        `${module.ratio!.toFixed(2)} ± ${module.ratioPlusMinus!.toFixed(2)} times as slowly as from the median of its group. ` +
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
      channels: [...sensorIds(grid, module.index), 'pack_current', 'coolant_in', 'coolant_out'].filter((id) =>
        facts.drive.channels.has(id),
      ),
    })
  })
  return { questions: [coolingQuestion(facts, fit, bad.length > 0)], findings, sections: { modules } }
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

function standardShare(module: ModuleHeat): number {
  return module.ratioPlusMinus! / 1.96 / module.ratio!
}

function poor(facts: Facts, module: ModuleHeat): boolean {
  const bar = facts.limits.coolingRatio.attention ?? Number.POSITIVE_INFINITY
  return (
    module.ratio! > bar &&
    module.ratio! - 1 > SIGMAS * standardShare(module) &&
    module.ratio! - module.ratioPlusMinus! > 1
  )
}

function coolingQuestion(facts: Facts, fit: ThermalFit, found: boolean): Question {
  const told = fit.modules.filter((module) => module.ratio !== null)
  if (told.length === 0) {
    const why = fit.modules[0]?.why ?? 'no module could be fitted'
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
  const share = mean(told.map(standardShare))
  const bar = facts.limits.coolingRatio.attention ?? 1.5
  const smallest = Math.max(bar, 1 + (SIGMAS + NINE_IN_TEN) * share)
  const left = fit.modules.length - told.length
  return assessed(
    'heat',
    QUESTION,
    found,
    `${told.length} of ${fit.modules.length} modules fitted over the drive${left > 0 ? `; ${left} warmed too little` : ''}.`,
    { value: smallest, unit: 'ratio' },
  )
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
  const forecast = heat?.ratio != null && fit ? forecastOf(facts, fit, heat, module.celsius) : null
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

/** Where the fitted model settles if this drive's rms current and last coolant temperature went on. */
function forecastOf(
  facts: Facts,
  fit: ThermalFit,
  heat: ModuleHeat,
  celsius: Float64Array,
): { settlesC: number; plusMinusC: number; limitS: number | null } | null {
  const coolant = fit.coolantC?.[fit.coolantC.length - 1]
  const now = [...celsius].reverse().find((value) => Number.isFinite(value))
  if (coolant === undefined || now === undefined) return null
  const above = (heat.warming * mean(fit.squaredA2)) / heat.cooling
  const settlesC = coolant + above
  const limit = temperatureLimit(facts).celsius
  const limitS =
    now < limit && settlesC > limit ? -Math.log((settlesC - limit) / (settlesC - now)) / heat.cooling : null
  return { settlesC, plusMinusC: 1.96 * above * Math.max(0.1, heat.coolingError / heat.cooling), limitS }
}
