import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { alignLogs } from '../../src/drive/clock/align-logs.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { type BoxColumn, logOf, type SharedDrive, sharedDrive } from '../helpers/shared-drive.ts'
import { twoBoxes } from '../simulator/boxes.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'
import { writeWideCsv } from '../simulator/writers/wide-csv.ts'

/**
 * How far are logs off after they were put on one clock, and does the stated 95 % interval hold that? Over what two
 * boxes may share, at several rates, with random offset and drift; then over simulated cars with two boxes.
 *
 *     npm run study:clocks [drives]
 */
const count = Number(process.argv[2] ?? 16)

const column = (
  id: string,
  unit: string,
  of: (s: number) => number,
  noise: number,
  step: number,
): BoxColumn => ({ id, unit, of, noise, step })
const current = (drive: SharedDrive, of = drive.current): BoxColumn =>
  column('pack_current', 'A', of, 0.3, 0.1)
const brake = (drive: SharedDrive): BoxColumn => column('brake_switch', '', drive.brake, 0, 1)

type Shared = (drive: SharedDrive) => readonly [readonly BoxColumn[], readonly BoxColumn[]]

const SHARED: Readonly<Record<string, Shared>> = {
  'current in both': (drive) => [[current(drive)], [current(drive)]],
  'current, unsigned in one': (drive) => [
    [current(drive)],
    [current(drive, (s) => Math.abs(drive.current(s)))],
  ],
  'current, turned in one': (drive) => [[current(drive)], [current(drive, (s) => -drive.current(s))]],
  'speed in both': (drive) => {
    const speed = column('speed', 'km/h', drive.speed, 0.1, 0.1)
    return [[speed], [speed]]
  },
  'voltage against current': (drive) => [
    [column('pack_voltage', 'V', drive.voltage, 0.1, 0.1)],
    [current(drive)],
  ],
  'current against torque × speed': (drive) => [
    [current(drive)],
    [
      column('torque', 'Nm', drive.torque, 0.5, 0.5),
      column('motor_speed', 'rpm', (s) => drive.speed(s) * 75, 2, 1),
    ],
  ],
  'a switch in both': (drive) => [[brake(drive)], [brake(drive)]],
  'current, polled every 0.5 s in one': (drive) => [[{ ...current(drive), pollS: 0.5 }], [current(drive)]],
}

interface Tally {
  readonly errorsMs: number[]
  readonly halfWidthsMs: number[]
  readonly driftsPpm: number[]
  inside: number
  unaligned: number
}

const tally = (): Tally => ({ errorsMs: [], halfWidthsMs: [], driftsPpm: [], inside: 0, unaligned: 0 })

function note(into: Tally, errorS: number, plusMinusS: number | null, driftPpm: number): void {
  if (plusMinusS === null) {
    into.unaligned++
    return
  }
  into.errorsMs.push(1000 * Math.abs(errorS))
  into.halfWidthsMs.push(1000 * plusMinusS)
  into.driftsPpm.push(Math.abs(driftPpm))
  if (Math.abs(errorS) <= plusMinusS) into.inside++
}

function print(name: string, { errorsMs, halfWidthsMs, driftsPpm, inside, unaligned }: Tally): void {
  const mean = halfWidthsMs.reduce((sum, each) => sum + each, 0) / halfWidthsMs.length
  console.log(
    `${name.padEnd(36)} inside ${inside}/${errorsMs.length}, not aligned ${unaligned}; worst ${Math.max(...errorsMs).toFixed(1)} ms and ${Math.max(...driftsPpm).toFixed(1)} ppm; ± ${mean.toFixed(1)} ms on average`,
  )
}

for (const [name, shared] of Object.entries(SHARED)) {
  const found = tally()
  for (let k = 0; k < count; k++) {
    const random = new Random(k + 100)
    const drive = sharedDrive(k * 7 + 1, 900)
    const [a, b] = shared(drive)
    const driftPpm = 300 * (random.next() - 0.5)
    const offsetS = 2000 * (random.next() - 0.5)
    const clocks = alignLogs([
      logOf(
        {
          name: 'a',
          fromS: 5,
          toS: 850,
          periodS: [0.1, 0.1, 0.2, 1][k % 4]!,
          driftPpm: 0,
          offsetS: 0,
          columns: a,
          startedAt: '2026-03-14T09:12:33',
        },
        k,
      ),
      logOf(
        {
          name: 'b',
          fromS: 60,
          toS: 900,
          periodS: [0.01, 0.02, 0.1, 0.1][(k >> 2) % 4]!,
          driftPpm,
          offsetS,
          columns: b,
        },
        k + 1000,
      ),
    ])
    const [first, second] = clocks as [(typeof clocks)[number], (typeof clocks)[number]]
    const trueRate = 1 / (1 + driftPpm * 1e-6) - 1
    const errors = [100, 475, 850].map((s) => {
      const own = s * (1 + driftPpm * 1e-6) + offsetS
      return own * (1 + second.drift_ppm * 1e-6) + second.offset_s - (s + first.offset_s)
    })
    const worst = errors.reduce((most, each) => (Math.abs(each) > Math.abs(most) ? each : most))
    note(found, worst, second.plus_minus_s, second.drift_ppm - trueRate * 1e6)
  }
  print(name, found)
}

const folder = mkdtempSync(join(tmpdir(), 'clocks-'))
const cars = tally()
for (let seed = 1; seed <= count; seed++) {
  const base = randomCase({ seed, durationS: [300, 600] })
  const random = new Random(seed).fork('clocks')
  const driftPpm = 200 * (random.next() - 0.5)
  const offsetS = 400 * (random.next() - 0.4)
  const clock = { offsetS: 0, driftPpm: 0, startsAt: null }
  const made = simulate({
    ...base,
    boxes: (car) => twoBoxes(car, base.style, { battery: clock, vehicle: { ...clock, offsetS, driftPpm } }),
  })
  const files = made.boxes.map((box) => {
    const path = join(folder, `${box.name}.csv`)
    const samples = made.samples.filter((each) => each.box === box)
    writeFileSync(
      path,
      writeWideCsv(samples, box, {
        delimiter: ',',
        decimal: '.',
        time: 'seconds',
        names: 'words',
        unitsIn: 'brackets',
      }),
    )
    return path
  })
  const [battery, vehicle] = (await openDrive(files)).files.map((file) => file.clock)
  const own = 200 * (1 + driftPpm * 1e-6) + offsetS
  const placed = own * (1 + vehicle!.drift_ppm * 1e-6) + vehicle!.offset_s
  const truly = 200 * (1 + battery!.drift_ppm * 1e-6) + battery!.offset_s
  const trueRate = 1 / (1 + driftPpm * 1e-6) - 1
  note(cars, placed - truly, vehicle!.plus_minus_s, vehicle!.drift_ppm - battery!.drift_ppm - trueRate * 1e6)
}
rmSync(folder, { recursive: true })
print('simulated cars, two boxes', cars)
