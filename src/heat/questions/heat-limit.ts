import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { median } from '../../math/stats.ts'
import { type HeatForecast, heatForecast, possiblyWithin, SOON_S } from '../models/heat-forecast.ts'
import { type ModuleTemperatures, moduleTemperatures } from '../models/module-temperatures.ts'
import { isPoorlyCooled } from '../models/poorly-cooled.ts'
import { thermalFit } from '../models/thermal-fit.ts'

const QUESTION = 'Would a module pass its temperature limit if this load went on?'

/**
 * Would a module pass its temperature limit if this load went on?
 *
 * Model:  `models/heat-forecast.ts`: where each module settles on this drive's mean load and last coolant temperature.
 * Reads:  module_temperature.* [°C], pack_current [A], coolant_in, coolant_out [°C]; vehicle: cell_temperature_max.
 * Gives:  `temperature-forecast` [min], a note: the lower end of the time, of the module that is there first. A module that
 *         is cooled worse than its peers has its forecast in that finding's headline instead.
 * Biased by: a load that changes; coolant that warms further (then it comes sooner).
 * Blind:  places hotter than the sensors'; modules whose heat this drive does not tell.
 * Source: lumped thermal model (textbook); what counts as soon: common practice, no source.
 */
export function heatLimit(facts: Facts): Answer {
  const grid = facts.once(moduleTemperatures)
  const fit = facts.once(thermalFit)
  const told = (fit?.modules ?? []).filter((module) => module.ratio !== null)
  if (!grid || !fit || told.length === 0)
    return {
      questions: [
        notAssessed(
          'heat',
          QUESTION,
          grid ? (fit ? [] : ['pack_current']) : ['module_temperature.1'],
          grid && fit
            ? 'this drive does not tell how any module sheds its heat'
            : 'what it needs is not logged',
          'Log module temperatures, pack current and coolant temperatures over a drive that warms the pack.',
        ),
      ],
      findings: [],
    }
  const forecasts = told.flatMap((module) => {
    const celsius = grid.modules.find(({ index }) => index === module.index)?.celsius
    const forecast = celsius && heatForecast(facts, fit, module, celsius)
    return forecast ? [{ module, forecast }] : []
  })
  const soon = forecasts
    .filter(({ module, forecast }) => !isPoorlyCooled(facts, module) && passesSoon(forecast))
    .sort((a, b) => a.forecast.earliestS! - b.forecast.earliestS!)
  const settles = median(forecasts.map(({ forecast }) => forecast.settlesC))
  return {
    questions: [
      assessed(
        'heat',
        QUESTION,
        false,
        forecasts.length > 0
          ? `On this load a usual module would settle at ${settles.toFixed(0)} °C; the limit is ${forecasts[0]!.forecast.limitC} °C.`
          : 'No module’s heat could be carried on.',
      ),
    ],
    findings: soon.length > 0 ? [first(facts, grid, soon)] : [],
  }
}

/** By the estimate it passes its limit, and soon by the lower end. */
const passesSoon = ({ limitS, earliestS }: HeatForecast): boolean =>
  limitS !== null && earliestS !== null && earliestS <= SOON_S

type Soon = { readonly module: { readonly index: number }; readonly forecast: HeatForecast }

function first(facts: Facts, grid: ModuleTemperatures, soon: readonly Soon[]) {
  const [{ module, forecast }, ...others] = soon as readonly [Soon, ...Soon[]]
  const place = grid.placedFrom ? `module ${module.index}` : `the pack at temperature sensor ${module.index}`
  const subject = (index: number) =>
    grid.placedFrom
      ? ({ type: 'module', index } as const)
      : ({ type: 'module', name: `at temperature sensor ${index}` } as const)
  return finding({
    kind: 'temperature-forecast',
    subject: subject(module.index),
    span_s: [0, facts.drive.durationS],
    value: forecast.limitS! / 60,
    unit: 'min',
    low: forecast.earliestS! / 60,
    high: null,
    limit: null,
    severity: 'note',
    headline: `On the same load ${place} would pass its limit of ${forecast.limitC} °C, ${possiblyWithin(forecast.earliestS!)}`,
    reason: `It would settle at ${forecast.settlesC.toFixed(0)} ± ${forecast.plusMinusC.toFixed(0)} °C on the mean load of this drive and the coolant as it was last; coolant that warms on brings it sooner.`,
    next_step:
      'Before the next drive look at coolant level, pump and fan; watch this module’s temperature against its limit.',
    cautions: [INSIDE_BOX],
    channels: logged(facts, ['pack_current', 'coolant_in', 'coolant_out']),
    question: QUESTION,
    also: others.map((each) => ({
      subject: subject(each.module.index),
      value: each.forecast.limitS! / 60,
    })),
  })
}
