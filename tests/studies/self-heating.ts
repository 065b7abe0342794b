import { appendFileSync, existsSync, readFileSync } from 'node:fs'
import { selfHeating } from '../../src/heat/questions/self-heating.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../simulator/simulate.ts'
import { type Model, studyArguments } from './two-models.ts'

/**
 * Packs that warm by themselves after key-off on random cars of both simulators, and healthy ones whose heat soaks
 * outwards after a hard drive, half of them charged afterwards: found, and accused; with the vehicle file and without.
 * Two sensors or three a module; every fourth has one, and a cell of the module that drains (the contract's second way).
 *
 *     npm run study:self-heating -- [drives a model, default 20] [--from=SEED] [--model=first|second|both]
 *       [--ill | --healthy] [--sum=FILE: adds this part to the file and prints the sum of all parts in it]
 */
const argv = process.argv.slice(2)
const { count: drives, from, models } = studyArguments(argv, 20)
const sum = argv.find((each) => each.startsWith('--sum='))?.slice(6)

interface Tally {
  ill: number
  found: number
  foundBare: number
  wrong: number
  healthy: number
  accused: number
  accusedBare: number
  rates: number[]
}
const tally: Tally = {
  ill: 0,
  found: 0,
  foundBare: 0,
  wrong: 0,
  healthy: 0,
  accused: 0,
  accusedBare: 0,
  rates: [],
}

interface Case {
  readonly made: Measured
  readonly module: number
  readonly kelvinMin: number
}

/** A hard drive, key-off, and 4 to 7 minutes of rest; ill from key-off on, or healthy and then perhaps charged. */
export function hardDrive(model: Model, seed: number, ill: boolean): Case {
  const random = new Random(seed).fork('self-heating')
  const kelvinMin = random.between(1.4, 4)
  const restS = random.between(240, 420)
  const drains = seed % 4 === 0
  // by the contract one sensor alone proves nothing
  const sensorsPerModule = drains ? 1 : random.pick([2, 2, 3])
  const charge = !ill && seed % 2 === 0
  const chargeS = random.between(120, 300)
  const amps = random.between(8, 60)
  // the voltage of a half full iron phosphate cell does not show what it loses
  const nmc = drains ? { pack: { chemistry: 'nmc' as const } } : {}
  let module = 0
  const faults = (perModule: readonly number[], pick: Random, capacityAh: number): Fault[] => {
    module = pick.whole(1, perModule.length)
    const before = perModule.slice(0, module - 1).reduce((a, b) => a + b, 0)
    const cell = before + pick.whole(1, perModule[module - 1]!)
    if (!ill) return []
    const heats: Fault = { kind: 'self-heating', module, kelvinMin }
    // so much current through a short in the cell as the heat of this module's rise needs is tens of ampere
    return drains ? [heats, { kind: 'self-discharge', cell, amps: capacityAh / 4 }] : [heats]
  }
  if (model === 'first') {
    const options = randomCase({
      seed,
      durationS: [120, 240],
      kind: 'hard',
      car: { heat: { sensorsPerModule }, ...nmc },
      faults: (car, pick) => faults(car.pack.cellsPerModule, pick, car.pack.capacityAh),
    })
    const driver = {
      ...options.driver,
      restS: charge ? restS / 3 : restS,
      charge: charge ? { durationS: chargeS, amps } : null,
    }
    return { made: simulate({ ...options, driver }), module, kelvinMin }
  }
  const options = secondCase({
    seed,
    durationS: [120, 240],
    build: {
      heat: { sensorsPerModule },
      // every third loses more in its cells, so that more heat is left to soak outwards
      cells: {
        ...(seed % 3 === 0 ? { ohmicMohmAh: 95, kinetics: 1.2 } : {}),
        ...(drains ? { chemistry: 'nmc' as const } : {}),
      },
    },
    faults: (build, pick) => faults(build.cells.perModule, pick, build.cells.capacityAh),
    road: { phases: [1, 2, 3], haste: 1.8, slopePercent: 7 },
  })
  const made = simulateSecond({
    ...options,
    run: {
      ...options.run,
      restS: charge ? restS / 3 + chargeS + 190 : restS,
      ...(charge ? { charge: { afterS: restS / 3, durationS: chargeS, amps } } : {}),
    },
  })
  return { made, module, kelvinMin }
}

function judge(model: Model, seed: number, ill: boolean): void {
  const { made, module, kelvinMin } = hardDrive(model, seed, ill)
  if (ill) tally.ill++
  else tally.healthy++
  for (const named of [true, false]) {
    const { findings } = selfHeating(gatherFacts(made.drive, named ? made.vehicle : {}))
    const [first] = findings
    const where = `${model} seed ${seed}${named ? '' : ', without vehicle file'}`
    if (!ill && first) {
      named ? tally.accused++ : tally.accusedBare++
      console.log(`accused: ${where}: ${first.headline}`)
    }
    if (!ill) continue
    if (first) named ? tally.found++ : tally.foundBare++
    else console.log(`missed: ${where}, ${kelvinMin.toFixed(1)} K/min in module ${module}`)
    if (named && findings.some((each) => each.subject.index !== module)) tally.wrong++
    if (named && first) tally.rates.push(first.value! / kelvinMin)
  }
}

function printed(parts: readonly Tally[]): string {
  const of = (key: Exclude<keyof Tally, 'rates'>): number => parts.reduce((all, each) => all + each[key], 0)
  const rates = parts.flatMap((each) => each.rates)
  const mean = rates.reduce((all, each) => all + each, 0) / rates.length
  return (
    `warming by itself: found ${of('found')} of ${of('ill')} (${of('foundBare')} without the vehicle file), ` +
    `another module named ${of('wrong')}, rate read ${mean.toFixed(2)} of the heat put in; healthy after hard driving ` +
    `and charging: accused ${of('accused')} of ${of('healthy')} (${of('accusedBare')} without the vehicle file)`
  )
}

if (process.argv[1] === import.meta.filename) {
  for (const model of models)
    for (let seed = from; seed < from + drives; seed++) {
      if (!argv.includes('--healthy')) judge(model, seed, true)
      if (!argv.includes('--ill')) judge(model, seed, false)
    }
  if (sum !== undefined) appendFileSync(sum, `${JSON.stringify(tally)}\n`)
  const parts =
    sum !== undefined && existsSync(sum)
      ? readFileSync(sum, 'utf8')
          .trim()
          .split('\n')
          .map((line) => JSON.parse(line) as Tally)
      : [tally]
  console.log(printed(parts))
}
