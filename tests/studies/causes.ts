import type { Finding } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { expectedFindings } from '../simulator/expected.ts'
import type { Fault } from '../simulator/faults.ts'
import type { Random } from '../simulator/random.ts'
import type { DriveTruth } from '../simulator/truth.ts'
import { CauseTally, type Outcome } from './cause-tally.ts'
import { Ledger } from './ledger.ts'
import { describe, draw, hiddenFunction, type Model, type Shape, studyArguments } from './two-models.ts'

/**
 * One fault a drive, both simulators side by side: is the cause right first, is it at least among those named, does
 * the interval hold the truth, are the odds what they say?
 *
 *     npm run study:causes -- [drives a cause and model, default 6] [joint box-link weak kinetics ohmic open cooling]
 *         [--model=first|second|both] [--without-vehicle] [--from=SEED] [--results=FILE] [--minutes=N]
 *
 * Counted where the fault is at least 1.5 times the smallest that the same review says it would have shown.
 */
interface Cause {
  readonly word: string
  /** null: this pack cannot have it. */
  readonly make: (shape: Shape, random: Random) => Fault | null
  readonly models?: readonly Model[]
  readonly warm?: boolean
  /** Kinds that name the cause; the first is what is expected with a vehicle file. */
  readonly kinds: readonly string[]
  readonly index: (fault: Fault) => number
  readonly value: (fault: Fault, truth: DriveTruth, kind: string) => number
  readonly question: RegExp
  /** What `smallest_seen` means no fault: 1 for ratios, 0 for mΩ. */
  readonly none: number
}

const ANY_CELL = ['joint-resistance-high', 'cell-weak', 'parallel-cell-open', 'box-link-resistance-high']
const SAME_PLACE = [...ANY_CELL, 'sense-tap-misplaced', 'sense-lead-offset', 'module-cooling-poor']
const cellOf = (fault: Fault): number => (fault as { cell: number }).cell
const anyCell = (shape: Shape, random: Random): number => random.whole(2, shape.cells - 1)

/** A cell's short-time resistance against the median, its joint taken out. */
const ratio = (fault: Fault, { cells, medianOhmicMohm }: DriveTruth): number =>
  cells[cellOf(fault) - 1]!.ohmicMohm / medianOhmicMohm

const joint = (cell: number, ohm: number): Fault => ({ kind: 'joint', cell, ohm })
const jointOhm = (fault: Fault, truth: DriveTruth, kind: string): number =>
  kind === 'box-link-resistance-high'
    ? truth.cells[cellOf(fault) - 1]!.readMohm
    : (fault as { ohm: number }).ohm * 1000

const WEAK = {
  kinds: ['cell-weak'],
  index: cellOf,
  value: ratio,
  question: /cell weaker/,
  none: 1,
} as const

const CAUSES: readonly Cause[] = [
  {
    word: 'joint',
    make: (shape, random) => {
      let cell = anyCell(shape, random)
      while (shape.boxBorders.includes(cell)) cell = anyCell(shape, random)
      return joint(cell, random.between(0.25, 1.2) / 1000)
    },
    kinds: ['joint-resistance-high'],
    index: cellOf,
    value: jointOhm,
    question: /joint or sense tap/,
    none: 0,
  },
  {
    word: 'box-link',
    models: ['second'],
    make: ({ boxBorders }, random) =>
      boxBorders.length === 0 ? null : joint(random.pick(boxBorders), random.between(0.5, 1.5) / 1000),
    kinds: ['joint-resistance-high', 'box-link-resistance-high'],
    index: cellOf,
    value: jointOhm,
    question: /joint or sense tap/,
    none: 0,
  },
  {
    word: 'weak',
    make: (shape, random) => ({
      kind: 'weak-cell',
      cell: anyCell(shape, random),
      ratio: random.between(1.4, 2.2),
      capacity: random.between(0.9, 1),
    }),
    ...WEAK,
  },
  {
    word: 'kinetics',
    models: ['second'],
    make: (shape, random) => ({
      kind: 'weak-cell',
      cell: anyCell(shape, random),
      ratio: random.between(1.8, 3.5),
      part: 'kinetics',
    }),
    ...WEAK,
  },
  {
    word: 'ohmic',
    models: ['second'],
    make: (shape, random) => ({
      kind: 'weak-cell',
      cell: anyCell(shape, random),
      ratio: random.between(1.8, 3),
      part: 'ohmic',
    }),
    ...WEAK,
  },
  {
    word: 'open',
    make: (shape, random) =>
      shape.parallel < 2 ? null : { kind: 'parallel-open', cell: anyCell(shape, random), missing: 1 },
    ...WEAK,
    kinds: ['parallel-cell-open'],
    value: () => 1,
  },
  {
    word: 'cooling',
    warm: true,
    make: (shape, random) => ({
      kind: 'cooling',
      module: random.whole(1, shape.perModule.length),
      factor: random.between(2, 3.5),
    }),
    kinds: ['module-cooling-poor'],
    index: (fault) => (fault as { module: number }).module,
    value: (fault, truth) => truth.modules[(fault as { module: number }).module - 1]!.coolingFactor,
    question: /cooled worse/,
    none: 1,
  },
]

function outcome(cause: Cause, fault: Fault, made: ReturnType<typeof draw>, bare: boolean): Outcome {
  const { findings, questions } = reviewDrive(made.drive, bare ? {} : made.vehicle)
  const place = cause.index(fault)
  // a link without peers is named by the cells that it joins
  const at = ({ subject }: Finding): boolean =>
    subject.type === 'box-link' ? subject.between_cells?.includes(place) === true : subject.index === place
  const here = findings.filter((each) => at(each) && SAME_PLACE.includes(each.kind))
  const kinds = bare && cause.word === 'open' ? ['parallel-cell-open', 'cell-weak'] : cause.kinds
  const lead = here[0] ?? null
  const rightKind = here.find(({ kind }) => kinds.includes(kind)) ?? null
  const named = here.some(
    ({ kind, rivals }) =>
      kinds.includes(kind) ||
      rivals.some((rival) => kinds.includes(rival.kind) && rival.subject?.index === place),
  )
  const truth = cause.value(fault, made.truth, rightKind?.kind ?? kinds[0]!)
  const size = cause.word === 'open' ? ratio(fault, made.truth) : truth
  const smallest = questions.find(({ question }) => cause.question.test(question))?.smallest_seen ?? null
  const ratios = lead?.rivals.flatMap((rival) => rival.likelihood_ratio ?? []) ?? []
  const { expect, allow } = expectedFindings(made)
  // a function that no channel shows is attention by the contract
  const unnamed = hiddenFunction(made)
  const known = new Set([...kinds, ...allow, ...expect.map((want) => want.kind)])
  return {
    visible: smallest !== null && size - cause.none >= 1.5 * (smallest - cause.none),
    smallest,
    size,
    lead: lead?.kind ?? null,
    loud: lead !== null && lead.severity !== 'note',
    right: lead !== null && kinds.includes(lead.kind),
    named,
    odds: ratios.length > 0 ? Math.min(...ratios) : null,
    held:
      rightKind?.low == null || rightKind.high == null || cause.word === 'open'
        ? null
        : rightKind.low <= truth && truth <= rightKind.high,
    said: here.map(short),
    others: findings
      .filter((each) => each.severity !== 'note' && !here.includes(each) && !known.has(each.kind))
      .filter(
        ({ kind, severity }) => !(unnamed && kind === 'torque-without-pedal' && severity === 'attention'),
      )
      .map(short),
  }
}

function short(finding: Finding): string {
  const { severity, kind, subject, value, low, high } = finding
  const interval = low === null || high === null ? '' : ` [${low.toPrecision(3)}, ${high.toPrecision(3)}]`
  return `${severity} ${kind} ${subject.index ?? subject.name ?? ''} ${value?.toPrecision(3)}${interval}`
}

/** What one drive gave; null: this pack cannot have the cause. */
interface Row {
  readonly model: Model
  readonly cause: string
  readonly drive: string
  readonly fault: Fault | null
  readonly outcome: Outcome | null
}

function row(cause: Cause, model: Model, seed: number, bare: boolean): Row {
  const made = draw({
    model,
    seed,
    faults: (shape, random) => [cause.make(shape, random)].filter((each) => each !== null),
    ...(cause.warm ? { warm: true, durationS: [1500, 2200] as const } : {}),
  })
  const fault = made.truth.faults[0] ?? null
  return {
    model,
    cause: cause.word,
    drive: describe(model, seed, made),
    fault,
    outcome: fault && outcome(cause, fault, made, bare),
  }
}

function told({ drive, fault, outcome }: Row): string {
  if (!fault || !outcome) return ''
  const { visible, right, loud, named, held, others, size, smallest, said } = outcome
  const bad = (visible && !(right && loud)) || held === false || !named
  if (!bad && others.length === 0) return ''
  return (
    `  ${visible ? '' : '(not visible) '}${drive}\n    ${JSON.stringify(fault)} size ${size.toPrecision(3)}, ` +
    `smallest ${smallest?.toPrecision(3) ?? 'not assessed'}\n    said: ${said.join('; ') || 'nothing there'}` +
    `${others.length > 0 ? `\n    others: ${others.join('; ')}` : ''}`
  )
}

const argv = process.argv.slice(2)
const { count, from, models, bare, words } = studyArguments(argv, 6)
const ledger = new Ledger<Row>(argv)
const causes = CAUSES.filter(({ word }) => words.length === 0 || words.includes(word))
// drive by drive over causes and models, so that a part of a study is of all alike
for (let n = 0; n < count; n++)
  for (const cause of causes)
    for (const model of models) {
      const seed = from + n + 1000 * (CAUSES.indexOf(cause) + 1)
      const key = `${cause.word} ${model} ${seed} ${bare ? 'bare' : 'with'}`
      if (ledger.over || ledger.get(key) || (cause.models && !cause.models.includes(model))) continue
      const each = row(cause, model, seed, bare)
      ledger.add(key, each)
      const text = told(each)
      if (text !== '') console.log(text)
    }
for (const way of ['with', 'bare']) {
  const tally = new CauseTally()
  for (const [key, { model, cause, outcome }] of ledger.all())
    if (outcome && key.endsWith(way)) tally.add(model, cause, outcome)
  if (tally.size > 0)
    for (const line of [way === 'bare' ? 'no vehicle file' : 'with vehicle file', ...tally.rows()])
      console.log(line)
}
