import { type Channel, channelNamed } from '../../shared/drive.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { asDrive } from './as-drive.ts'
import { type Box, batteryReadings, type Reading, USUAL_STYLE, vehicleReadings } from './boxes.ts'
import { measure, type Samples } from './measure.ts'
import { Random } from './random.ts'
import { type Simulated, simulate } from './simulate.ts'

/**
 * A very long drive for the page's speed test: 100 channels, each 100 times a second, for 10 hours, stored as a drive
 * of the library without ever being in memory whole. One true hour (a delivery round) is driven `hours` times; noise
 * differs each hour, the charge starts anew. The review is of the same drive at 1 Hz.
 *
 *     npx tsx tests/simulator/long-drive.ts DATA_DIR [hours]     prints the drive's id
 */
const HOUR_S = 3600
const RATE_HZ = 100
const CELLS = 64

const HOUR = {
  seed: 100,
  car: {
    name: 'Teasel',
    pack: { cellsPerModule: [16, 16, 16, 16], startSoc: 0.9, capacityAh: 90 },
  },
  route: { kind: 'mixed', durationS: HOUR_S },
  boxes: (): Box[] => [{ name: 'thin', rowHz: 1, readings: [] }],
} as const

/** 64 cells and 36 others: what both boxes usually read. */
function hundred(made: Simulated): { id: string; reading: Reading }[] {
  const { car } = made.trace
  const readings = [...batteryReadings(car, USUAL_STYLE), ...vehicleReadings(car, USUAL_STYLE)]
  const all = readings.flatMap((reading) =>
    reading.channels.map((id) => ({ id, reading: { ...reading, channels: [id] } })),
  )
  const cells = all.filter(({ id }) => id.startsWith('cell_voltage.'))
  return [...all.filter(({ id }) => !id.startsWith('cell_voltage.')).slice(0, 100 - CELLS), ...cells]
}

/** One channel over all hours, at `rateHz`. */
function overHours(
  made: Simulated,
  { id, reading }: { id: string; reading: Reading },
  rateHz: number,
  hours: number,
): Float64Array {
  const perHour = HOUR_S * rateHz
  const values = new Float64Array(hours * perHour)
  const box: Box = { name: id, rowHz: rateHz, readings: [{ ...reading, rateHz, onChange: false }] }
  for (let hour = 0; hour < hours; hour++) {
    const [samples] = measure(made.trace, [box], new Random(1000 * hour + 7))
    values.set(samples!.values.subarray(0, perHour), hour * perHour)
  }
  return values
}

function timesOver(rateHz: number, hours: number): Float64Array {
  return Float64Array.from({ length: hours * HOUR_S * rateHz }, (_, i) => i / rateHz)
}

/** Stores the drive in `dataDir` and gives its id. About 190 MB an hour on disk. */
export function storeLongDrive(dataDir: string, hours = 10): string {
  const made = simulate(HOUR)
  const channels = hundred(made)
  const thinTimes = timesOver(1, hours)
  const thin = channels.map(
    (each): Samples => ({
      id: each.id,
      reading: each.reading,
      box: made.boxes[0]!,
      timeS: thinTimes,
      values: overHours(made, each, 1, hours),
      fresh: null,
    }),
  )
  const drive = asDrive(thin, made.vehicle)
  const timeS = timesOver(RATE_HZ, hours)
  const full = new Lazy(channels, ({ id, reading }) => ({
    ...channelNamed(drive.channels, id)!,
    timeS,
    values: overHours(made, { id, reading }, RATE_HZ, hours),
    fresh: null,
  }))
  return storeDrive(openPlace(dataDir), {
    drive: { ...drive, channels: full },
    review: reviewDrive(drive, made.vehicle),
    logs: [],
    vehicle: made.vehicle,
    title: `A very long drive, ${hours} h`,
  }).id
}

/** Channels made one at a time, when asked for, and kept by nobody. */
class Lazy extends Map<string, Channel> implements ReadonlyMap<string, Channel> {
  readonly #list: readonly { id: string; reading: Reading }[]
  readonly #make: (each: { id: string; reading: Reading }) => Channel

  constructor(
    list: readonly { id: string; reading: Reading }[],
    make: (each: { id: string; reading: Reading }) => Channel,
  ) {
    super()
    this.#list = list
    this.#make = make
  }

  override *values(): ReturnType<Map<string, Channel>['values']> {
    for (const each of this.#list) yield this.#make(each)
  }
}

if (process.argv[1] === import.meta.filename) {
  const [dataDir, hours] = process.argv.slice(2)
  if (!dataDir) throw new Error('the data directory is missing')
  console.log(storeLongDrive(dataDir, hours ? Number(hours) : 10))
}
