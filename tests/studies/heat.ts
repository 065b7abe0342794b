import type { Answer } from '../../src/facts/answer.ts'
import type { Facts } from '../../src/facts/facts.ts'
import { coolant } from '../../src/heat/questions/coolant.ts'
import { cooling } from '../../src/heat/questions/cooling.ts'
import { driveTemperatures } from '../../src/heat/questions/drive-temperatures.ts'
import { swappedSensors } from '../../src/heat/questions/swapped-sensors.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { Car } from '../simulator/car.ts'
import type { Fault } from '../simulator/faults.ts'
import type { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'

/**
 * Heat faults on random cars, duties and boxes: how often each is told, and what healthy drives are accused of.
 *
 *     npm run study:heat -- [drives a line, default 20] [words of the lines wanted …]
 *
 * Half of the healthy drives and of each fault are rural, half hard; 15 to 30 minutes long.
 */
interface Line {
  readonly what: string
  readonly faults: (car: Car, random: Random) => readonly Fault[]
  /** Kinds that count as told. */
  readonly told: readonly string[]
  /** Kinds that the fault may bring with it. */
  readonly also?: readonly string[]
}

const hotModule: Fault = { kind: 'cooling', module: 3, factor: 2.6 }

const LINES: readonly Line[] = [
  { what: 'healthy', faults: () => [], told: [] },
  {
    what: 'coolant at 3 % all along',
    faults: () => [{ kind: 'coolant-flow', share: 0.03 }],
    told: ['coolant-flow-doubtful'],
  },
  {
    what: 'coolant at 20 % all along',
    faults: () => [{ kind: 'coolant-flow', share: 0.2 }],
    told: ['coolant-flow-doubtful'],
  },
  {
    what: 'coolant to 3 % part way',
    faults: (_, random) => [{ kind: 'coolant-flow', share: 0.03, fromS: random.between(350, 600) }],
    told: ['coolant-flow-doubtful'],
  },
  {
    what: 'coolant to 20 % part way',
    faults: (_, random) => [{ kind: 'coolant-flow', share: 0.2, fromS: random.between(350, 600) }],
    told: ['coolant-flow-doubtful'],
  },
  {
    what: 'coolant stopped part way, outlet stands still',
    faults: (_, random) => [{ kind: 'coolant-flow', share: 0, fromS: random.between(350, 600) }],
    told: ['coolant-flow-doubtful'],
  },
  {
    what: 'inverter sensor stuck',
    faults: (_, random) => [
      { kind: 'drive-temperature-frozen', channel: 'inverter_temperature', fromS: random.between(60, 500) },
    ],
    told: ['temperature-reading-frozen'],
  },
  {
    what: 'motor sensor stuck',
    faults: (_, random) => [
      { kind: 'drive-temperature-frozen', channel: 'motor_temperature', fromS: random.between(60, 500) },
    ],
    told: ['temperature-reading-frozen'],
  },
  {
    what: 'one sensor swapped with one of a hot module',
    faults: (car) => [
      hotModule,
      {
        kind: 'temperature-swapped',
        sensors: [2 * car.heat.sensorsPerModule + 1, 4 * car.heat.sensorsPerModule],
      },
    ],
    told: ['temperature-sensor-swapped'],
    also: ['module-cooling-poor'],
  },
  {
    what: 'all sensors swapped with those of a hot module',
    faults: (car) =>
      Array.from({ length: car.heat.sensorsPerModule }, (_, s): Fault => {
        const n = car.heat.sensorsPerModule
        return { kind: 'temperature-swapped', sensors: [2 * n + s + 1, 4 * n + s + 1] }
      }).concat([hotModule]),
    told: ['temperature-sensor-swapped'],
    also: ['module-cooling-poor'],
  },
  { what: 'a hot module, sensors right', faults: () => [hotModule], told: ['module-cooling-poor'] },
]

const HEAT = [coolant, driveTemperatures, swappedSensors, cooling]

function main(): void {
  const args = process.argv.slice(2)
  const drives = Number(args.find((each) => /^\d+$/.test(each)) ?? 20)
  const words = args.filter((each) => !/^\d+$/.test(each))
  for (const line of LINES) {
    if (words.length > 0 && !words.every((word) => line.what.includes(word))) continue
    let told = 0
    let assessed = 0
    const wrong: string[] = []
    const started = performance.now()
    let spentMs = 0
    for (let n = 0; n < drives; n++) {
      const seed = 7000 + n
      const options = randomCase({
        seed,
        faults: line.faults,
        durationS: [900, 1800],
        kind: n % 2 ? 'hard' : 'rural',
      })
      const made = simulate(options)
      const facts = gatherFacts(made.drive, made.vehicle)
      const before = performance.now()
      const answers = HEAT.map((analysis: (facts: Facts) => Answer) => analysis(facts))
      spentMs += performance.now() - before
      const loud = answers.flatMap((answer) => answer.findings).filter((each) => each.severity !== 'note')
      if (loud.some((each) => line.told.includes(each.kind))) told++
      if (answers.some((answer) => answer.questions.some((each) => each.state !== 'not-assessed'))) assessed++
      for (const each of loud)
        if (!line.told.includes(each.kind) && !line.also?.includes(each.kind))
          wrong.push(`    FALSE seed ${seed}: ${each.headline} ${each.reason}`)
    }
    console.log(
      `${line.what.padEnd(48)} ${line.told.length > 0 ? `told ${told} of ${drives}, ` : ''}assessed ${assessed}, other findings ${wrong.length} (${(spentMs / drives).toFixed(0)} ms a drive, ${((performance.now() - started) / 1000).toFixed(0)} s)`,
    )
    for (const each of wrong) console.log(each)
  }
}

main()
