import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { median } from '../../src/math/stats.ts'
import { asDrive } from './as-drive.ts'
import { type Box, type BoxStyle, oneBox } from './boxes.ts'
import { RegenMap } from './brakes.ts'
import { type Car, type CarChanges, makeCar } from './car.ts'
import type { DriverOptions } from './driver.ts'
import type { Fault } from './faults.ts'
import { Link } from './link.ts'
import { measure, type Samples } from './measure.ts'
import { runPhysics } from './physics.ts'
import { Random } from './random.ts'
import { makeRoute, type RouteOptions } from './route.ts'
import type { Trace } from './trace.ts'
import { type DriveTruth, truthOf } from './truth.ts'
import { TruthAt } from './truth-at.ts'
import { vehicleFile } from './vehicle-file.ts'

export interface SimulateOptions {
  readonly seed: number
  readonly car?: CarChanges
  /** null: the car is only started and turned off. Default a mixed route of 10 minutes. */
  readonly route?: Partial<RouteOptions> | null
  readonly faults?: readonly Fault[]
  /** What the boxes are like; or the boxes themselves, given the car. */
  readonly style?: Partial<BoxStyle>
  readonly boxes?: (car: Car) => readonly Box[]
  readonly driver?: Partial<DriverOptions>
}

/** A drive of either model: measured, in normal form, with its truth. */
export interface Measured {
  readonly drive: Drive
  readonly vehicle: Vehicle
  readonly truth: DriveTruth
  readonly samples: readonly Samples[]
  readonly boxes: readonly Box[]
}

export interface Simulated extends Measured {
  readonly trace: Trace
}

/** One drive: physics, measured by its boxes, in normal form, with the truth beside it. Same options, same drive. */
export function simulate(options: SimulateOptions): Simulated {
  const random = new Random(options.seed)
  const car = makeCar(options.car)
  const faults = options.faults ?? []
  const has = (kind: Fault['kind']): boolean => faults.some((fault) => fault.kind === kind)
  const route =
    options.route === null
      ? null
      : makeRoute({ kind: 'mixed', durationS: 600, ...options.route }, random.fork('route'))
  const trace = runPhysics(
    car,
    faults,
    route,
    {
      keyOnS: 4,
      patienceS: 16,
      attempts: 2,
      restS: 30,
      charge: null,
      uses: 'starts',
      habit: null,
      neverPressesBrake: has('brake-not-pressed'),
      leavesSelectorIn: has('selector-not-neutral'),
      restsOnPedal: has('pedal-pressed'),
      ...options.driver,
    },
    random.fork('drive'),
  )
  const boxes = options.boxes?.(car) ?? oneBox(car, options.style)
  const samples = measure(trace, boxes, random.fork('boxes'))
  const vehicle = vehicleFile(car)
  const link = new Link(car, faults)
  return {
    drive: asDrive(samples, vehicle),
    vehicle,
    truth: truthOf(
      trace,
      restOffsets(trace),
      { ...link.aim, loadOhm: link.loadOhm },
      new RegenMap(car, faults).startBar,
      boxes.map((box) => ({
        box: box.name,
        offsetS: box.clock?.offsetS ?? 0,
        driftPpm: box.clock?.driftPpm ?? 0,
      })),
    ),
    samples,
    boxes,
    trace,
  }
}

/** At the first moment of the drive: nothing flows, so each reading is the cell at rest. */
function restOffsets(trace: Trace): Float64Array {
  const truth = new TruthAt(trace)
  const volts = Float64Array.from(
    { length: trace.pack.cells },
    (_, k) => truth.values(`cell_voltage.${k + 1}`, [0])[0]!,
  )
  const middle = median(volts)
  return volts.map((volt) => 1000 * (volt - middle))
}
