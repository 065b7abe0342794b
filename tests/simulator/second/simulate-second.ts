import { asDrive } from '../as-drive.ts'
import type { Box } from '../boxes.ts'
import type { Fault } from '../faults.ts'
import { measureAny } from '../measure.ts'
import { Random } from '../random.ts'
import type { Measured } from '../simulate.ts'
import { type Build, type BuildChanges, makeBuild } from './build.ts'
import { makeRoad, type RoadOptions } from './road.ts'
import { type Run, type RunOptions, run } from './run.ts'
import { type SecondStyle, secondBoxes, withWakes } from './second-boxes.ts'
import { secondVehicle } from './second-vehicle.ts'
import { RunTruth, truthOfRun } from './truth-source.ts'

export interface SecondOptions {
  readonly seed: number
  readonly build?: BuildChanges
  /** null: started and turned off. Default 10 minutes of all four phases. */
  readonly road?: Partial<RoadOptions> | null
  readonly faults?: readonly Fault[]
  readonly style?: Partial<SecondStyle>
  readonly boxes?: (build: Build) => readonly Box[]
  readonly run?: Partial<RunOptions>
}

export interface SecondSimulated extends Measured {
  readonly run: Run
}

/** Kinds of fault that this model knows; another one is refused, never passed over. */
const KNOWN: ReadonlySet<Fault['kind']> = new Set<Fault['kind']>([
  'joint',
  'weak-cell',
  'parallel-open',
  'sense-lead',
  'tap-misplaced',
  'imbalance',
  'cell-frozen',
  'cell-invalid',
  'cooling',
  'coolant-flow',
  'temperature-frozen',
  'temperature-open',
  'temperature-swapped',
  'contactor-resistance',
  'torque-without-pedal',
  'runaway',
  'self-heating',
  'self-discharge',
  'regen-limited',
  'brake-signal-missing',
  'node-silent',
  'log-gap',
])

/** One drive of the second model, in the first one's form. Same options, same drive. */
export function simulateSecond(options: SecondOptions): SecondSimulated {
  const faults = options.faults ?? []
  for (const { kind } of faults)
    if (!KNOWN.has(kind)) throw new Error(`the second model has no fault ${kind}`)
  const random = new Random(options.seed).fork('second')
  const build = makeBuild(options.build)
  const road =
    options.road === null
      ? null
      : makeRoad({ durationS: 600, cruise: build.functions.cruise, ...options.road }, random.fork('road'))
  const made = run(build, faults, road, { keyOnS: 5, restS: 30, ...options.run }, random.fork('run'))
  const truth = new RunTruth(made, random.fork('sensors'))
  const boxes = options.boxes?.(build) ?? secondBoxes(build, options.style)
  const samples = withWakes(measureAny(truth, boxes, random.fork('boxes')), options.style?.wakesAtS ?? [])
  const vehicle = secondVehicle(build)
  const clocks = boxes.map((box) => ({
    box: box.name,
    offsetS: box.clock?.offsetS ?? 0,
    driftPpm: box.clock?.driftPpm ?? 0,
  }))
  return {
    drive: asDrive(samples, vehicle),
    vehicle,
    truth: truthOfRun(made, truth, clocks),
    samples,
    boxes,
    run: made,
  }
}
