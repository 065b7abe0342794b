import type { Finding } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { RunawayWay } from '../simulator/faults.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { Ledger } from './ledger.ts'
import { describe, draw, type Model, studyArguments } from './two-models.ts'

/**
 * Torque that nobody asked for must stop, in every way of the contract's rule; cruise control, creep and hill hold never.
 *
 *     npm run study:runaways -- [drives a way and model, default 3] [ways and functions …] [--model=first|second|both]
 *         [--without-vehicle] [--from=SEED] [--results=FILE] [--minutes=N]
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
const SEVERITIES = ['stop', 'attention', 'note'] as const
const TORQUE = ['torque-without-pedal', 'torque-unrequested', 'torque-against-selector']

interface Row {
  readonly model: Model
  readonly way: string
  /** The worst that was said; `never came`: the drive gave no moment for it. */
  readonly worst: 'stop' | 'attention' | 'note' | 'nothing' | 'never came'
  readonly told: string
}

function worst(findings: readonly Finding[]): Row['worst'] {
  const said = findings.filter(({ kind }) => TORQUE.includes(kind))
  return SEVERITIES.find((each) => said.some(({ severity }) => severity === each)) ?? 'nothing'
}

function told(findings: readonly Finding[]): string {
  const lines = findings.flatMap(({ kind, severity, span_s, headline }) =>
    TORQUE.includes(kind) ? [`${severity} ${span_s?.map((t) => t.toFixed(1)).join('–')} s: ${headline}`] : [],
  )
  return `\n    said: ${lines.join('; ') || 'nothing'}`
}

function runaway(model: Model, way: RunawayWay, seed: number, bare: boolean): Row {
  const made = draw({
    model,
    seed,
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
  const spell = made.truth.runaways[0]
  if (!spell) return { model, way, worst: 'never came', told: '' }
  const { findings } = reviewDrive(made.drive, bare ? {} : made.vehicle)
  const what = `${way} ${spell.nm.toFixed(0)} N·m from ${spell.fromS.toFixed(1)} to ${spell.toS.toFixed(1)} s`
  return {
    model,
    way,
    worst: worst(findings),
    told: `${describe(model, seed, made)}\n    ${what}${told(findings)}`,
  }
}

function proper(
  name: (typeof FUNCTIONS)[number],
  how: (typeof SHOWN)[number],
  seed: number,
  bare: boolean,
): Row {
  const functions = {
    cruise: false,
    creep: false,
    hold: false,
    [name]: true,
    shown: how.shown,
    declared: how.declared,
  }
  const made = simulateSecond(
    secondCase({
      seed,
      build: { functions },
      ...(name === 'hold' ? { road: { slopePercent: 7 } } : {}),
    }),
  )
  const { findings } = reviewDrive(made.drive, bare ? {} : made.vehicle)
  return {
    model: 'second',
    way: `${name}, ${how.name}`,
    worst: worst(findings),
    told: `${describe('second', seed, made)}, ${name}, ${how.name}${told(findings)}`,
  }
}

const argv = process.argv.slice(2)
const { count, from, models, bare, words } = studyArguments(argv, 3)
const wanted = (word: string): boolean => words.length === 0 || words.includes(word)
const ledger = new Ledger<Row>(argv)
const kept = (key: string, make: () => Row): void => {
  if (ledger.over || ledger.get(key)) return
  const row = make()
  ledger.add(key, row)
  const { way, worst } = row
  const missed = WAYS.some((each) => each === way) && worst !== 'stop' && worst !== 'never came'
  const wrong = FUNCTIONS.some((each) => way.startsWith(each)) && (worst === 'stop' || worst === 'attention')
  if (missed) console.log(`  MISS ${row.told}`)
  else if (wrong && (worst === 'stop' || way.endsWith('channel'))) console.log(`  FALSE ${row.told}`)
}
for (let n = from; n < from + count; n++) {
  for (const model of models)
    for (const way of WAYS.filter(wanted))
      kept(`${way} ${model} ${n} ${bare ? 'bare' : 'with'}`, () => runaway(model, way, n + 9000, bare))
  for (const name of models.includes('second') ? FUNCTIONS.filter(wanted) : [])
    for (const how of SHOWN)
      kept(`${name} ${how.name} ${n} ${bare ? 'bare' : 'with'}`, () => proper(name, how, n + 9500, bare))
}
for (const side of ['with', 'bare']) {
  const tally = new Map<string, Record<string, number>>()
  for (const [key, { model, way, worst }] of ledger.all()) {
    if (!key.endsWith(side)) continue
    const row = tally.get(`${model.padEnd(6)} ${way}`) ?? {}
    tally.set(`${model.padEnd(6)} ${way}`, { ...row, [worst]: (row[worst] ?? 0) + 1 })
  }
  if (tally.size > 0) console.log(side === 'bare' ? 'no vehicle file' : 'with vehicle file')
  for (const [name, row] of [...tally].sort(([a], [b]) => a.localeCompare(b)))
    console.log(`${name.padEnd(24)} ${JSON.stringify(row)}`)
}
