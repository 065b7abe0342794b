import { reviewDrive } from '../../src/review/review.ts'
import type { RunawayWay } from '../simulator/faults.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { describe, draw, studyArguments } from './two-models.ts'

/**
 * Torque that nobody asked for must stop, in every way of the contract's rule; cruise control, creep and hill hold never.
 *
 *     npm run study:runaways -- [drives a way and model, default 3] [ways and functions …] [--model=first|second|both]
 *         [--without-vehicle] [--from=SEED]
 *
 * Functions (second model): with a channel each, declared in the vehicle file, or neither; anything below `stop` passes
 * where neither is (the contract: attention while unproved), `note` where the channel shows them.
 */
const WAYS: readonly RunawayWay[] = [
  'stuck',
  'with-brake',
  'rising',
  'low-speed',
  'coasting',
  'beyond-request',
  'opposite',
]
const FUNCTIONS = ['cruise', 'creep', 'hold'] as const
const SHOWN = [
  { name: 'channel', shown: true, declared: false },
  { name: 'declared', shown: false, declared: true },
  { name: 'neither', shown: false, declared: false },
] as const
const TORQUE = ['torque-without-pedal', 'torque-unrequested', 'torque-against-selector']

const { count, from, models, bare, words } = studyArguments(process.argv.slice(2), 3)
const wanted = (word: string): boolean => words.length === 0 || words.includes(word)

for (const model of models)
  for (const way of WAYS.filter(wanted)) {
    let happened = 0
    let stopped = 0
    for (let seed = from; seed < from + count; seed++) {
      const made = draw({
        model,
        seed: seed + 9000,
        faults: (_, random) => [
          {
            kind: 'runaway',
            way,
            nm: random.between(28, 45),
            atS: random.between(50, 90),
            lenS: random.between(4, 7),
          },
        ],
      })
      if (made.truth.runaways.length === 0) continue
      happened++
      const { findings } = reviewDrive(made.drive, bare ? {} : made.vehicle)
      const said = findings.filter(({ kind }) => TORQUE.includes(kind))
      if (said.some(({ severity }) => severity === 'stop')) stopped++
      else {
        const spell = made.truth.runaways[0]!
        console.log(`  MISS ${describe(model, seed + 9000, made)}`)
        console.log(
          `    ${way} ${spell.nm.toFixed(0)} N·m from ${spell.fromS.toFixed(1)} to ${spell.toS.toFixed(1)} s`,
        )
        console.log(
          `    said: ${said.map((each) => `${each.severity} ${each.headline}`).join('; ') || 'nothing'}`,
        )
      }
    }
    console.log(
      `${model.padEnd(6)} ${way.padEnd(15)} stop in ${stopped} of ${happened} (${count - happened} never came)`,
    )
  }

for (const name of models.includes('second') ? FUNCTIONS.filter(wanted) : [])
  for (const { name: how, shown, declared } of SHOWN) {
    const tally = { stop: 0, attention: 0, note: 0, nothing: 0 }
    for (let seed = from; seed < from + count; seed++) {
      const functions = { cruise: false, creep: false, hold: false, [name]: true, shown, declared }
      const made = simulateSecond(
        secondCase({
          seed: seed + 9500,
          build: { functions },
          ...(name === 'hold' ? { road: { slopePercent: 7 } } : {}),
        }),
      )
      const { findings } = reviewDrive(made.drive, bare ? {} : made.vehicle)
      const said = findings.filter(({ kind }) => TORQUE.includes(kind))
      const worst = (['stop', 'attention', 'note'] as const).find((each) =>
        said.some((f) => f.severity === each),
      )
      tally[worst ?? 'nothing']++
      if (worst === 'stop' || (worst === 'attention' && shown))
        console.log(
          `  FALSE ${describe('second', seed + 9500, made)}, ${name}, ${how}\n    ${said
            .map(
              (each) =>
                `${each.severity} ${each.span_s?.map((t) => t.toFixed(1)).join('–')} s: ${each.headline}`,
            )
            .join('; ')}`,
        )
    }
    console.log(`second ${name.padEnd(6)} ${how.padEnd(8)} ${JSON.stringify(tally)}`)
  }
