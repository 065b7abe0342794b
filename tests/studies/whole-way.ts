import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { oneBox, twoBoxes } from '../simulator/boxes.ts'
import type { Car } from '../simulator/car.ts'
import { expectedFindings } from '../simulator/expected.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase, randomStyle, someCell } from '../simulator/random-case.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'
import { writePcap, writePcapng } from '../simulator/writers/captures.ts'
import type { Written } from '../simulator/writers/columns.ts'
import { writeFrameCsv } from '../simulator/writers/frame-csv.ts'
import { framesOf } from '../simulator/writers/frames.ts'
import { writeLongCsv } from '../simulator/writers/long-csv.ts'
import { messagesOf, signalTable } from '../simulator/writers/signals.ts'
import { gzip } from '../simulator/writers/text-bytes.ts'
import { type WideDialect, writeWideCsv } from '../simulator/writers/wide-csv.ts'

/**
 * The whole way, blind: random cars with one random fault or none, written by random boxes in random layouts, some
 * channels missing, currents unsigned or turned, now and then two logs on two clocks; read back, reviewed with and
 * without the vehicle file. One line a drive; what was missed and every false alarm is named, counts at the end.
 *
 *     npx tsx tests/studies/whole-way.ts [drives] [first seed]
 */
const FAULTS: readonly ((car: Car, random: Random) => Fault[])[] = [
  () => [],
  () => [],
  (car, random) => [{ kind: 'joint', cell: someCell(car, random), ohm: random.between(0.0004, 0.0012) }],
  (car, random) => [{ kind: 'weak-cell', cell: someCell(car, random), ratio: random.between(1.5, 1.9) }],
  (car, random) => [{ kind: 'sense-lead', cell: someCell(car, random), volt: random.between(0.013, 0.03) }],
  (car, random) => [{ kind: 'imbalance', cell: someCell(car, random), soc: -random.between(0.025, 0.05) }],
  (_, random) => [{ kind: 'pedal-drift', points: random.between(13, 25), fromS: 60, toS: 110 }],
  (car, random) => [{ kind: 'regen-dead-band', bar: car.brake.startBar + random.between(4, 7) }],
  (car, random) => [{ kind: 'precharge-load', ohm: car.precharge.resistorOhm * random.between(3, 11) }],
  () => [{ kind: 'inertia-open' }],
  () => [{ kind: 'interlock-open' }],
  (car) => [{ kind: 'isolation', kohm: car.pack.cellsPerModule.length * 4, side: 'battery' }],
]

/** Channels that a log may lack without hiding these faults. */
const SPARE = [
  'charge_limit',
  'discharge_limit',
  'coolant_in',
  'coolant_out',
  'inverter_dc_current',
  'dcdc_current',
  'motor_speed',
  'bms_state',
  'bms_faults',
  'inverter_state',
  'pedal_position',
  'soc',
  'brake_lamp',
  'charge_plug',
  'link_voltage',
]

/** Without the vehicle file these need its figures. */
const NEEDS_FILE = new Set(['regen-dead-band', 'cell-imbalance'])

interface Logs {
  readonly how: string
  readonly logs: readonly Written[]
  readonly signals: Written | null
}

function write(made: Simulated, random: Random, without: readonly string[]): Logs {
  const names = random.pick(['words', 'snake', 'camel'] as const)
  const delimiter = random.pick([',', ';', '\t'] as const)
  const decimal = delimiter === ',' ? '.' : random.pick(['.', ','] as const)
  const zip = random.chance(0.5)
  const file = (name: string, bytes: Uint8Array): Written =>
    zip ? { name: `${name}.gz`, bytes: gzip(bytes) } : { name, bytes }
  const kind =
    made.boxes.length > 1 ? 'wide' : random.pick(['wide', 'wide', 'wide', 'long', 'frames', 'pcap'])
  const startsAt = '2031-10-11T07:05:00Z'
  if (kind === 'wide') {
    const dialect: WideDialect = {
      delimiter,
      decimal,
      names,
      time: random.pick(['seconds', 'milliseconds', 'iso', 'wall', 'clock', 'counter16']),
      unitsIn: random.pick(['brackets', 'parentheses', 'suffix', 'row']),
      units: {
        ...(random.chance(0.4) ? { cell_voltage: 'mV' } : {}),
        ...(random.chance(0.3) ? { brake_pressure: random.pick(['kPa', 'psi', 'MPa']) } : {}),
        ...(random.chance(0.2) ? { speed: random.pick(['mph', 'm/s']) } : {}),
        ...(random.chance(0.2) ? { module_temperature: '°F' } : {}),
      },
      encoding: random.pick(['utf-8', 'utf-8 with BOM', 'utf-16le', 'latin-1']),
      numberFrom: random.pick([0, 1]),
      without,
    }
    return {
      how: `${dialect.time} ${names} ${dialect.unitsIn}${made.boxes.length > 1 ? ' two clocks' : ''}`,
      logs: made.boxes.map((box) => file(`${box.name}.csv`, writeWideCsv(made.samples, box, dialect))),
      signals: null,
    }
  }
  const box = made.boxes[0]!
  if (kind === 'long') {
    const bytes = writeLongCsv(made.samples, box, {
      delimiter,
      decimal,
      names,
      time: 'seconds',
      withUnit: true,
      without,
    })
    return { how: `long ${names}`, logs: [file('long.csv', bytes)], signals: null }
  }
  const kept = made.samples.filter((each) => !without.includes(each.id))
  const messages = messagesOf(kept, {
    names,
    withChannels: random.chance(0.3),
    extended: random.chance(0.4),
    bigEndianNodes: random.chance(0.5) ? ['battery'] : [],
    multiplexCells: random.chance(0.4),
  })
  const form = random.pick(['json', 'csv'] as const)
  const signals = { name: `signals.${form}`, bytes: Buffer.from(signalTable(messages, form)) }
  const frames = framesOf(messages, box)
  if (kind === 'frames') {
    const identifier = random.pick(['hex', '0x', 'decimal'] as const)
    const data = random.pick(['one field', 'spaced', 'eight fields'] as const)
    const bytes = writeFrameCsv(frames, { delimiter, decimal, identifier, data })
    return { how: `frames ${identifier} ${data} ${names}`, logs: [file('frames.csv', bytes)], signals }
  }
  const dialect = { nanoseconds: random.chance(0.5), bigEndian: random.chance(0.3), startsAt }
  const next = random.chance(0.4)
  const bytes = next ? writePcapng(frames, dialect) : writePcap(frames, dialect)
  return {
    how: `${next ? 'pcapng' : 'pcap'} ${names}`,
    logs: [file(next ? 'bus.pcapng' : 'bus.pcap', bytes)],
    signals,
  }
}

const [drives = '40', first = '1'] = process.argv.slice(2)
const folder = mkdtempSync(join(tmpdir(), 'aftermile-whole-way-'))
const missed = new Map<string, number>()
const falsely = new Map<string, number>()
const count = (map: Map<string, number>, kind: string): void => void map.set(kind, (map.get(kind) ?? 0) + 1)
for (let seed = Number(first); seed < Number(first) + Number(drives); seed++) {
  const random = new Random(seed).fork('whole way')
  const fault = random.pick(FAULTS)
  const two = random.chance(0.2)
  const style = {
    ...randomStyle(random),
    ...(random.chance(0.12) ? { unsigned: true } : {}),
    ...(random.chance(0.2) ? { turned: true } : {}),
  }
  const options = randomCase({ seed: 5000 + seed, faults: fault, durationS: [240, 420] })
  const clock = { offsetS: random.between(-40, 40), driftPpm: 50 * random.normal(), startsAt: null }
  const made = simulate({
    ...options,
    boxes: (car) => (two ? twoBoxes(car, style, { vehicle: clock }) : oneBox(car, style)),
  })
  const without = SPARE.filter(() => random.chance(0.15))
  const { how, logs, signals } = write(made, random, without)
  const put = ({ name, bytes }: Written): string => {
    const path = join(folder, `${seed}-${name}`)
    writeFileSync(path, bytes)
    return path
  }
  const paths = logs.map(put)
  const table = signals ? { signals: put(signals) } : {}
  const { expect, allow } = expectedFindings(made)
  console.log(
    `${seed} ${JSON.stringify(options.faults)} ${options.car?.name} ${how}, ${style.cellHz} Hz, without ${without.join(' ')}`,
  )
  for (const vehicle of [made.vehicle, {}] as Vehicle[]) {
    const bare = vehicle.pack === undefined
    try {
      const loud = reviewDrive(await openDrive(paths, { ...table, vehicle }), vehicle).findings.filter(
        (finding) => finding.severity !== 'note',
      )
      for (const want of expect) {
        if (bare && NEEDS_FILE.has(want.kind)) continue
        const got = loud.find(
          (finding) =>
            finding.kind === want.kind &&
            (want.index === undefined || finding.subject.index === want.index) &&
            (want.name === undefined || finding.subject.name === want.name),
        )
        if (got) continue
        count(missed, want.kind + (bare ? ' (bare)' : ''))
        console.log(`    MISS${bare ? ' bare' : ''} ${want.kind} ${want.index ?? want.name ?? ''}`)
      }
      const allowed = new Set([...allow, ...expect.map((want) => want.kind)])
      for (const each of loud)
        if (!allowed.has(each.kind)) {
          count(falsely, each.kind + (bare ? ' (bare)' : ''))
          console.log(
            `    FALSE${bare ? ' bare' : ''} ${each.severity} ${each.kind} ${each.subject.index ?? ''}: ${each.headline}`,
          )
        }
    } catch (error) {
      count(falsely, 'unread')
      console.log(`    UNREAD${bare ? ' bare' : ''} ${(error as Error).message}`)
    }
  }
  for (const path of paths) rmSync(path)
}
rmSync(folder, { recursive: true })
console.log('\nmissed', [...missed], '\nfalse', [...falsely])
