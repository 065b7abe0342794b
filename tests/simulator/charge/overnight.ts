import type { Box, Reading } from '../boxes.ts'
import type { Car } from '../car.ts'
import type { Samples } from '../measure.ts'
import { Random } from '../random.ts'
import type { Written } from '../writers/columns.ts'
import { gzip } from '../writers/text-bytes.ts'
import { writeWideCsv } from '../writers/wide-csv.ts'
import { carOf } from './charge-car.ts'
import { chargeLog, READ } from './charge-log.ts'
import { type ChargePlan, runCharge, type World } from './charge-world.ts'

const EVERY_S = 10
/** The one cell that is fuller than the rest, and by how much of its charge. */
const FULLER = { cell: 17, by: 0.012 }

const PLAN: ChargePlan = {
  durationS: 17_400,
  plugS: 1560,
  mainsV: 231,
  dutyPercent: 26.7,
  cableOhm: 680,
  chargerW: 3600,
  efficiency: 0.924,
  askA: 13.4,
  startSoc: 0.41,
  earlyState: false,
  chargerHoldsVoltage: false,
  ambientC: 17,
  // the house takes its share of the supply
  slow: { by: 'pilot', fromS: 4200, toS: 7200, share: 0.6 },
}

/** The sample "Teasel overnight": a charge at a row every ten seconds, its vehicle file and what a review must find. */
export function overnightFiles(car: Car): Written[] {
  const random = new Random(4413)
  const pack = carOf(car, random.fork('pack'))
  pack.socApart[FULLER.cell - 1]! += FULLER.by
  const { world, truth } = runCharge(pack, PLAN, random.fork('run'))
  const box = boxOf(world)
  const style = { everyS: EVERY_S, without: [], packGain: 0.004, chargerGain: -0.003, packOffsetA: 0.1 }
  const { series } = chargeLog(world, style, random.fork('log'))
  const samples: Samples[] = series.map(({ name, timeS, values }, at) => ({
    id: name,
    reading: box.readings[at]!,
    box,
    timeS,
    values,
    fresh: null,
  }))
  const expected = {
    name: 'teasel-overnight',
    files: ['overnight.csv.gz'],
    signals: null,
    vehicle: 'vehicle.json',
    expect: [{ kind: 'charge-slow', value: truth.slowPercent, tol: 0.1 }],
    allow: [],
    faults: [PLAN.slow, { kind: 'fuller-cell', ...FULLER }],
    distance_km: 0,
    energy_out_wh: 0,
    energy_in_wh: 0,
    into_wh: truth.intoWh,
    wall_wh: truth.wallWh,
    whole: true,
    clock: null,
  }
  const csv = writeWideCsv(samples, box, {
    delimiter: ',',
    decimal: '.',
    time: 'wall',
    names: 'words',
    unitsIn: 'brackets',
  })
  return [
    { name: 'overnight.csv.gz', bytes: gzip(csv) },
    { name: 'vehicle.json', bytes: json(pack.vehicle) },
    { name: 'expected.json', bytes: json(expected) },
  ]
}

function boxOf(world: World): Box {
  const readings = [...world.keys()].map((id): Reading => {
    const [noise, step] = READ[id.replace(/\.\d+$/, '')] ?? [0, 1]
    return { channels: [id], rateHz: 1 / EVERY_S, noise, step: step || 1 }
  })
  return {
    name: 'charge',
    readings,
    rowHz: 1 / EVERY_S,
    clock: { offsetS: 0, driftPpm: 0, startsAt: '2031-06-21T21:40:10Z' },
  }
}

const json = (value: unknown): Uint8Array => Buffer.from(`${JSON.stringify(value, null, 2)}\n`)
