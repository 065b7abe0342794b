import type { Finding } from '../../shared/review.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { expectedFindings } from '../simulator/expected.ts'
import type { Fault } from '../simulator/faults.ts'
import type { Random } from '../simulator/random.ts'
import type { DriveTruth } from '../simulator/truth.ts'
import { CauseTally, type Outcome } from './cause-tally.ts'
import { describe, draw, type Model, type Shape, studyArguments } from './two-models.ts'

/**
 * One fault a drive, both simulators side by side: is the cause right first, is it at least among those named, does
 * the interval hold the truth, are the odds what they say?
 *
 *     npm run study:causes -- [drives a cause and model, default 6] [joint box-link weak kinetics ohmic open cooling]
 *         [--model=first|second|both] [--without-vehicle] [--from=SEED]
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
      .map(short),
  }
}

function short(finding: Finding): string {
  const { severity, kind, subject, value, low, high } = finding
  const interval = low === null || high === null ? '' : ` [${low.toPrecision(3)}, ${high.toPrecision(3)}]`
  return `${severity} ${kind} ${subject.index ?? subject.name ?? ''} ${value?.toPrecision(3)}${interval}`
}

const { count, from, models, bare, words } = studyArguments(process.argv.slice(2), 6)
const tally = new CauseTally()
for (const cause of CAUSES) {
  if (words.length > 0 && !words.includes(cause.word)) continue
  for (const model of models) {
    if (cause.models && !cause.models.includes(model)) continue
    let seed = from + 1000 * (CAUSES.indexOf(cause) + 1)
    for (let n = 0; n < count; seed++) {
      let fault: Fault | null = null
      const faults = (shape: Shape, random: Random): readonly Fault[] => {
        fault = cause.make(shape, random)
        return fault ? [fault] : []
      }
      const made = draw({
        model,
        seed,
        faults,
        ...(cause.warm ? { warm: true, durationS: [1500, 2200] as const } : {}),
      })
      if (!made.truth.faults[0]) continue
      n++
      const result = outcome(cause, made.truth.faults[0], made, bare)
      tally.add(model, cause.word, result)
      const bad = (result.visible && !(result.right && result.loud)) || result.held === false
      if (bad || result.others.length > 0)
        console.log(
          `  ${result.visible ? '' : '(not visible) '}${describe(model, seed, made)}\n    ${JSON.stringify(fault)}` +
            ` size ${result.size.toPrecision(3)}, smallest ${result.smallest?.toPrecision(3) ?? 'not assessed'}` +
            `\n    said: ${result.said.join('; ') || 'nothing there'}` +
            `${result.others.length > 0 ? `\n    others: ${result.others.join('; ')}` : ''}`,
        )
    }
  }
}
for (const row of tally.rows()) console.log(row)
