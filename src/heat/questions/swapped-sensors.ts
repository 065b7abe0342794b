import type { Finding } from '../../../shared/review.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'
import { type Facts, family, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { moduleTemperatures } from '../models/module-temperatures.ts'
import { type SensorSwaps, type SwapHypothesis, sensorSwaps } from '../models/sensor-swaps.ts'

const QUESTION = 'Does every temperature sensor sit in the module that it is named for?'

/**
 * Do the readings of one module's sensors follow another module?
 *
 * Model: `sensorSwaps`.
 * Reads: module_temperature.* [°C], cell_voltage.* [V], pack_current [A].
 * Gives: `temperature-sensor-swapped` on the first of the sensors [K that the two
 * modules' readings moved apart]: the best pair whose likelihood ratio clears what all pairs tried together call for.
 * Rivals are the other pairs that fit nearly as well: of two sensors in each of two modules, agreement alone cannot say
 * which one moved.
 * Biased by: modules that truly differ in cooling.
 * Blind: swaps between modules that warm alike, or within one module.
 * Source: likelihood ratios; common practice, no source.
 */
export function swappedSensors(facts: Facts): Answer {
  const not = (why: string, to: string | null): Answer => ({
    questions: [notAssessed('heat', QUESTION, [], why, to, 'K')],
    findings: [],
  })
  if (family(facts, 'module_temperature').length === 0)
    return {
      questions: [
        notAssessed(
          'heat',
          QUESTION,
          ['module_temperature.1'],
          'no module temperature is logged',
          'Log the module temperatures.',
          'K',
        ),
      ],
      findings: [],
    }
  const swaps = facts.once(sensorSwaps)
  if (!swaps)
    return not(
      facts.once(moduleTemperatures)?.placedFrom === null
        ? 'nothing says which sensor sits in which module'
        : 'under three modules can be compared, or neither their cells\u2019 resistance nor a second sensor a module tells them apart',
      facts.once(moduleTemperatures)?.placedFrom === null
        ? 'Give sensors_of_module in the vehicle file.'
        : null,
    )
  // modules whose readings hardly moved apart are told by luck: a weak cell's own law looked like a swap over 0.5 K
  // (study:causes, 27 November 2026, second model 35003)
  const best = swaps.tried.find((each) => each.apartC > swaps.apartPlusMinusC)
  const found = best !== undefined && best.logRatio > swaps.needed
  if (!found && swaps.furthestC < swaps.smallestC)
    return not(
      `The modules\u2019 readings moved apart by ${swaps.furthestC.toFixed(1)} K at most; one current flows through all, so sensors swapped between modules that warm alike cannot be told. Apart by ${swaps.smallestC.toFixed(1)} K or more they would have been.`,
      null,
    )
  const by = swaps.heldAgainst
    .map((each) =>
      each === 'resistance'
        ? 'their cells\u2019 resistance, which falls as they warm'
        : 'their fellows in the module',
    )
    .join(' and ')
  const why = `Each sensor\u2019s warming was held against ${by}. Sensors of modules that moved apart by less than ${swaps.smallestC.toFixed(1)} K could still be swapped unseen.`
  return {
    questions: [assessed('heat', QUESTION, found, why, { value: swaps.smallestC, unit: 'K' })],
    findings: found ? [say(facts, swaps, best)] : [],
  }
}

const named = ({ sensors, modules }: SwapHypothesis): string =>
  sensors.length === 1
    ? `sensor ${sensors[0]![0]} (module ${modules[0]}) and sensor ${sensors[0]![1]} (module ${modules[1]})`
    : `the sensors of modules ${modules[0]} and ${modules[1]}`

function say(facts: Facts, swaps: SensorSwaps, best: SwapHypothesis): Finding {
  const near = swaps.tried
    .filter((each) => each !== best && best.logRatio - each.logRatio < Math.log(100))
    .slice(0, 3)
  const all = [...new Set(best.sensors.flat())]
  const evidence = [
    best.fromResistance > 1
      ? `The resistance of modules ${best.modules[0]} and ${best.modules[1]} fell through the drive as if each held the other\u2019s readings (ratio ${ratio(best.fromResistance)}).`
      : '',
    best.fromAgreement > 1
      ? `Within each module the sensors move alike once these change places (ratio ${ratio(best.fromAgreement)}).`
      : '',
  ].filter(Boolean)
  return finding({
    kind: 'temperature-sensor-swapped',
    subject: { type: 'temperature-sensor', index: best.sensors[0]![0] },
    span_s: [0, facts.drive.durationS],
    value: best.apartC,
    unit: 'K',
    plusMinus: swaps.apartPlusMinusC,
    limit: null,
    severity: 'attention',
    headline: `Readings of ${named(best)} look swapped.`,
    reason: `${evidence.join(' ')} Until that is settled, what this review says of the cooling or heat of one of these modules may hold for the other.`,
    next_step:
      'Follow both sensor leads from the plug and compare them with the pack\u2019s drawing before any lid is chosen by these temperatures; a sensor warmed by hand shows under which number it is read.',
    cautions: [INSIDE_BOX],
    rivals: [
      ...near.map((each) => ({
        kind: 'temperature-sensor-swapped' as const,
        subject: { type: 'temperature-sensor' as const, index: each.sensors[0]![0], name: named(each) },
        likelihood_ratio: Math.exp(best.logRatio - each.logRatio),
        for: 'It explains the readings nearly as well.',
        against: 'The pair named fits better.',
        decided_by: 'Warming one sensor by hand and seeing which number moves.',
      })),
      {
        kind: 'module-cooling-poor',
        subject: { type: 'module', index: best.modules[0] },
        likelihood_ratio: Math.exp(Math.min(600, best.logRatio)),
        for: 'A module cooled worse reads warmer as well.',
        against: 'Its cells\u2019 resistance, or the other sensors of the module, do not follow it.',
        decided_by: 'The sensors\u2019 places, looked up lead by lead.',
      },
    ],
    channels: logged(
      facts,
      all.map((number) => `module_temperature.${number}`),
    ),
  })
}

const ratio = (log: number): string =>
  log > Math.log(1e6) ? 'over a million to one' : `${Number(Math.exp(log).toPrecision(1))} to one`
