/**
 * Pedal and brake over random cars, routes and boxes of the simulator. Healthy drives: what is accused, and how often the
 * map's intervals hold the truth. Faulty drives: how often each fault is found, and what else is said.
 * `npm run study:brake [drives] [first seed] [--without-vehicle]`
 */

import { brakeSplit } from '../../src/brake/models/brake-split.ts'
import { type Figure, regenMap } from '../../src/brake/models/regen-map.ts'
import { brakeSignal } from '../../src/brake/questions/brake-signal.ts'
import { braking } from '../../src/brake/questions/braking.ts'
import { regenBehaviour } from '../../src/brake/questions/regen-behaviour.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { stopLampAnalysis } from '../../src/brake/questions/stop-lamp.ts'
import { wheelSlipAnalysis } from '../../src/brake/questions/wheel-slip.ts'
import { pedalTorque } from '../../src/pedal/questions/pedal-torque.ts'
import { pedalTracks } from '../../src/pedal/questions/pedal-tracks.ts'
import { torqueLag } from '../../src/pedal/questions/torque-lag.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { type Car, makeCar } from '../simulator/car.ts'
import type { Fault } from '../simulator/faults.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'

const PARTS = [
  pedalTracks,
  pedalTorque,
  torqueLag,
  regeneration,
  regenBehaviour,
  brakeSignal,
  braking,
  stopLampAnalysis,
  wheelSlipAnalysis,
]

const FAULTS: readonly [kind: string, faults: (car: Car) => readonly Fault[]][] = [
  ['pedal-mismatch', () => [{ kind: 'pedal-drift', points: 14, fromS: 100, toS: 110 }]],
  ['pedal-out-of-range', () => [{ kind: 'pedal-out-of-range', volt: 0.05, fromS: 120, toS: 121 }]],
  ['regen-dead-band', (car) => [{ kind: 'regen-dead-band', bar: car.brake.startBar + 4 }]],
  ['regen-step', () => [{ kind: 'regen-step', bar: 6, nm: 30 }]],
  ['regen-limited', () => [{ kind: 'regen-limited', amps: 25 }]],
  ['regen-lag', () => [{ kind: 'regen-lag', s: 0.9 }]],
  ['brake-signal-missing', () => [{ kind: 'brake-signal-missing', fromS: 60, toS: 180 }]],
]

/** Counts of intervals that hold the truth, by figure. */
class Coverage {
  private readonly counts = new Map<string, [held: number, all: number]>()

  add(what: string, figure: Figure | null | undefined, truth: number): void {
    if (!figure) return
    const held =
      figure.bound === 'at-least'
        ? figure.value <= truth
        : Math.abs(figure.value - truth) <= (figure.plusMinus ?? 0)
    const key = figure.bound === 'at-least' ? `${what} (at least)` : what
    const [before, all] = this.counts.get(key) ?? [0, 0]
    this.counts.set(key, [before + (held ? 1 : 0), all + 1])
  }

  print(): void {
    for (const [what, [held, all]] of [...this.counts].sort())
      console.log(`  ${what}: interval holds the truth in ${held} of ${all}`)
  }
}

function findings(facts: ReturnType<typeof gatherFacts>): string[] {
  return PARTS.flatMap((part) => part(facts).findings)
    .filter((each) => each.severity !== 'note')
    .map((each) => each.kind)
}

const numbers = process.argv.slice(2).filter((each) => !each.startsWith('-'))
const drives = Number(numbers[0] ?? 20)
const first = Number(numbers[1] ?? 1)
const bare = process.argv.includes('--without-vehicle')

console.log(`healthy drives ${first} to ${first + drives - 1}${bare ? ', without vehicle file' : ''}`)
const coverage = new Coverage()
for (let seed = first; seed < first + drives; seed++) {
  const options = randomCase({ seed, durationS: [280, 420] })
  const { drive, vehicle } = simulate(options)
  const { brake, road } = makeCar(options.car)
  const facts = gatherFacts(drive, bare ? {} : vehicle)
  const loud = findings(facts)
  if (loud.length > 0) console.log(`  ${seed}: ${loud.join(', ')}`)
  const map = facts.once(regenMap)
  if (!map) continue
  coverage.add('start', map.start, brake.startBar)
  coverage.add('full', map.full, brake.fullBar)
  coverage.add('most in all', map.maxNm, brake.maxNm + brake.liftNm)
  coverage.add('brake part', map.brakeNm, brake.maxNm)
  coverage.add('fade, from', map.fadeKmh?.[0], brake.fadeKmh[0])
  coverage.add('fade, to', map.fadeKmh?.[1], brake.fadeKmh[1])
  coverage.add('lift-off', map.liftNm, brake.liftNm)
  const split = facts.once(brakeSplit)
  if (split && split.perPress !== null)
    coverage.add(
      'friction per bar',
      { value: split.perPress, plusMinus: split.perPressPlusMinus, bound: 'exact' },
      brake.frictionNewtonBar / (1.04 * road.massKg),
    )
}
coverage.print()
for (const [kind, faults] of FAULTS) {
  let found = 0
  const others: string[] = []
  for (let seed = first; seed < first + Math.ceil(drives / 4); seed++) {
    const { drive, vehicle } = simulate(randomCase({ seed, durationS: [280, 380], faults }))
    const loud = findings(gatherFacts(drive, bare ? {} : vehicle))
    if (loud.includes(kind)) found++
    others.push(...loud.filter((each) => each !== kind))
  }
  console.log(
    `${kind}: found in ${found} of ${Math.ceil(drives / 4)}${others.length > 0 ? `; also ${others.join(', ')}` : ''}`,
  )
}
