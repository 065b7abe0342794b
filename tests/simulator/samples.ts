import { oneBox, twoBoxes } from './boxes.ts'
import { makeCar } from './car.ts'
import { overnightFiles } from './charge/overnight.ts'
import { expectedFindings } from './expected.ts'
import { type Simulated, type SimulateOptions, simulate } from './simulate.ts'
import { writePcap } from './writers/captures.ts'
import type { Written } from './writers/columns.ts'
import { framesOf } from './writers/frames.ts'
import { messagesOf, signalTable } from './writers/signals.ts'
import { gzip } from './writers/text-bytes.ts'
import { writeWideCsv } from './writers/wide-csv.ts'

/** A sample: its name, what it shows, and all files of its folder. */
export interface Sample {
  readonly name: string
  readonly shows: string
  files(): Written[]
}

/** A drive: what is simulated and how it is written. */
interface DriveSample extends Pick<Sample, 'name' | 'shows'> {
  readonly options: SimulateOptions
  readonly signals: string | null
  write(made: Simulated): Written[]
}

const packed = (name: string, bytes: Uint8Array): Written => ({ name: `${name}.gz`, bytes: gzip(bytes) })

const JUNIPER: DriveSample = {
  name: 'juniper',
  shows: 'A first road test. One joint in module 3 was never torqued: it drops with every ampere.',
  options: {
    seed: 2903,
    car: {
      name: 'Juniper',
      pack: { cellsPerModule: [12, 12, 12, 12, 12, 12], capacityAh: 48, ohmicMohm: 1.2, startSoc: 0.74 },
      road: { massKg: 1090, gear: 8.7, motorMaxNm: 150, motorMaxW: 70000, dragAreaM2: 0.64 },
      brake: { maxNm: 66, fullBar: 26 },
    },
    route: { kind: 'mixed', durationS: 300, slopePercent: 2 },
    faults: [{ kind: 'joint', cell: 31, ohm: 0.00062 }],
    boxes: (car) => oneBox(car, { vehicleHz: 20, currentHz: 20, cellHz: 10, scanS: 0.05 }),
  },
  signals: null,
  write: (made) => [
    packed(
      'road-test.csv',
      writeWideCsv(made.samples, made.boxes[0]!, {
        delimiter: ',',
        decimal: '.',
        time: 'seconds',
        timeDecimals: 2,
        names: 'words',
        unitsIn: 'brackets',
      }),
    ),
  ],
}

const SORREL: DriveSample = {
  name: 'sorrel',
  shows:
    'A car that will not start: a load left across the DC link holds the precharge below its mark, twice.',
  options: {
    seed: 1711,
    car: {
      name: 'Sorrel',
      pack: { cellsPerModule: [16, 16, 18, 18, 16, 16], chemistry: 'lfp', capacityAh: 100, startSoc: 0.55 },
      precharge: { resistorOhm: 68, linkFarad: 0.0013, readyPercent: 95, timeoutS: 3 },
      pedal: { track1: [0.55, 4.3], track2: [0.31, 2.18] },
    },
    route: null,
    faults: [{ kind: 'precharge-load', ohm: 540 }],
    driver: { restS: 12 },
    boxes: (car) =>
      oneBox(car, { vehicleHz: 50, currentHz: 50, cellHz: 2, switchHz: 25, scanS: 0.2 }).map((box) => ({
        ...box,
        clock: { offsetS: 0, driftPpm: 0, startsAt: '2031-03-07T16:42:05Z' },
      })),
  },
  signals: null,
  write: (made) => [
    packed(
      'will-not-start.csv',
      writeWideCsv(made.samples, made.boxes[0]!, {
        delimiter: ';',
        decimal: ',',
        time: 'wall',
        names: 'snake',
        unitsIn: 'suffix',
        units: { cell_voltage: 'mV', brake_pressure: 'kPa' },
        encoding: 'utf-8 with BOM',
        lineEnd: '\r\n',
        preamble: ['Workshop logger;Sorrel', 'Bench: key on twice; no ready lamp'],
      }),
    ),
  ],
}

const TEASEL: DriveSample = {
  name: 'teasel',
  shows:
    'A healthy shakedown in two logs on two clocks: the battery unit’s table and a capture of the vehicle bus.',
  options: {
    seed: 4412,
    car: {
      name: 'Teasel',
      pack: {
        cellsPerModule: [10, 10, 10, 10, 10, 10],
        capacityAh: 66,
        ohmicMohm: 0.9,
        startSoc: 0.81,
        jointReadWith: 'upper',
      },
      road: {
        massKg: 910,
        gear: 7.6,
        motorMaxNm: 140,
        motorMaxW: 60000,
        dragAreaM2: 0.6,
        drivenAxle: 'front',
      },
      brake: { startBar: 2, fullBar: 22, maxNm: 58, liftNm: 7 },
    },
    route: { kind: 'urban', durationS: 270 },
    boxes: (car) =>
      twoBoxes(
        car,
        { vehicleHz: 20, currentHz: 20, cellHz: 10, scanS: 0.08, switchHz: 10 },
        {
          battery: { offsetS: 0, driftPpm: 0, startsAt: '2031-06-21T08:15:30Z' },
          vehicle: { offsetS: 21.37, driftPpm: -45, startsAt: '2031-06-21T08:14:52Z' },
        },
      ),
  },
  signals: 'signals.json',
  write: (made) => {
    const [battery, vehicle] = made.boxes
    const own = made.samples.filter((each) => each.box === vehicle)
    const messages = messagesOf(own, {
      names: 'camel',
      withChannels: false,
      extended: false,
      bigEndianNodes: ['inverter'],
      multiplexCells: false,
    })
    return [
      packed(
        'battery.csv',
        writeWideCsv(made.samples, battery!, {
          delimiter: '\t',
          decimal: '.',
          time: 'iso',
          names: 'camel',
          unitsIn: 'row',
          numberFrom: 0,
        }),
      ),
      packed(
        'vehicle.pcap',
        writePcap(framesOf(messages, vehicle!), {
          nanoseconds: false,
          bigEndian: false,
          startsAt: vehicle!.clock!.startsAt!,
        }),
      ),
      { name: 'signals.json', bytes: Buffer.from(signalTable(messages, 'json')) },
    ]
  },
}

export const SAMPLES: readonly Sample[] = [
  ...[JUNIPER, SORREL, TEASEL].map((drive) => ({
    name: drive.name,
    shows: drive.shows,
    files: () => driveFiles(drive),
  })),
  {
    name: 'teasel-overnight',
    shows:
      'A night on a 16 A station. The station takes its offer back for 50 minutes; one cell is fuller and ends the charge.',
    files: () => overnightFiles(makeCar(TEASEL.options.car)),
  },
]

/** All files of a drive's folder: logs, vehicle file, what a review must find. */
function driveFiles(sample: DriveSample): Written[] {
  const made = simulate(sample.options)
  const logs = sample.write(made)
  const { truth } = made
  const second = truth.clocks[1]
  const expected = {
    name: sample.name,
    files: logs.map((log) => log.name).filter((name) => name !== sample.signals),
    signals: sample.signals,
    vehicle: 'vehicle.json',
    ...expectedFindings(made),
    faults: truth.faults,
    distance_km: truth.distanceKm,
    energy_out_wh: truth.energyOutWh,
    energy_in_wh: truth.energyInWh,
    whole: true,
    clock: second ? { offset_s: second.offsetS, drift_ppm: second.driftPpm } : null,
  }
  return [
    ...logs,
    { name: 'vehicle.json', bytes: json(made.vehicle) },
    { name: 'expected.json', bytes: json(expected) },
  ]
}

function json(value: unknown): Uint8Array {
  return Buffer.from(`${JSON.stringify(value, null, 2)}\n`)
}
