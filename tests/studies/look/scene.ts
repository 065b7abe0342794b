import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Box, oneBox, USUAL_STYLE } from '../../simulator/boxes.ts'
import type { Samples } from '../../simulator/measure.ts'
import { Random } from '../../simulator/random.ts'
import { randomCase, randomStyle } from '../../simulator/random-case.ts'
import { randomSecondStyle, secondCase } from '../../simulator/second/random-second.ts'
import { secondBoxes } from '../../simulator/second/second-boxes.ts'
import { simulateSecond } from '../../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../../simulator/simulate.ts'
import { writePcap } from '../../simulator/writers/captures.ts'
import { framesOf } from '../../simulator/writers/frames.ts'
import { type Message, messagesOf } from '../../simulator/writers/signals.ts'
import { writeWideCsv } from '../../simulator/writers/wide-csv.ts'
import type { Model } from '../two-models.ts'

/** A drive heard by two boxes: a bus capture whose table is withheld, and a logger's CSV on a clock of its own. */
export interface Scene {
  readonly messages: readonly Message[]
  readonly capture: string
  readonly log: string
  /** Time on the capture's clock + this = time on the logger's. */
  readonly offsetS: number
  remove(): void
}

/** What no name of the writers stands for, and what is no number. */
const UNNAMED = new Set(['gear', 'cruise_active', 'hold_active'])

export function scene(model: Model, seed: number, durationS: readonly [number, number] = [260, 420]): Scene {
  const random = new Random(seed).fork('look')
  const clock = { offsetS: random.between(-40, 90), driftPpm: random.between(-40, 40), startsAt: null }
  const logger = (box: Box): Box => ({
    ...box,
    name: 'logger',
    rowHz: 20,
    readings: box.readings.map((reading) => ({ ...reading, rateHz: Math.min(20, reading.rateHz) })),
    clock,
  })
  const made: Measured =
    model === 'first' ? first(seed, random, logger, durationS) : second(seed, random, logger, durationS)
  const [bus, other] = made.boxes
  const own = (box: Box): Samples[] =>
    made.samples.filter((each) => each.box === box && !UNNAMED.has(each.id))
  const messages = messagesOf(own(bus!), {
    names: 'camel',
    withChannels: true,
    extended: random.chance(0.4),
    bigEndianNodes: random.pick([[], ['inverter'], ['battery'], ['battery', 'vehicle', 'inverter']]),
    multiplexCells: random.chance(0.4),
  })
  const folder = mkdtempSync(join(tmpdir(), 'look-'))
  const capture = join(folder, 'bus.pcap')
  const log = join(folder, 'logger.csv')
  writeFileSync(
    capture,
    writePcap(framesOf(messages, bus!), {
      nanoseconds: false,
      bigEndian: false,
      startsAt: '2031-06-21T08:14:52Z',
    }),
  )
  writeFileSync(
    log,
    writeWideCsv(own(other!), other!, {
      delimiter: ',',
      decimal: '.',
      time: 'seconds',
      timeDecimals: 3,
      names: 'words',
      unitsIn: 'brackets',
    }),
  )
  return {
    messages,
    capture,
    log,
    offsetS: clock.offsetS,
    remove: () => rmSync(folder, { recursive: true }),
  }
}

function first(
  seed: number,
  random: Random,
  logger: (box: Box) => Box,
  durationS: readonly [number, number],
): Measured {
  const options = randomCase({ seed, durationS })
  const other = { ...randomStyle(random.fork('logger')), unsigned: false, turned: false }
  const { style, ...rest } = options
  const own = { ...USUAL_STYLE, ...style, switchesOnChange: false }
  return simulate({
    ...rest,
    boxes: (car) => [...oneBox(car, own), ...oneBox(car, { ...other, switchesOnChange: false }).map(logger)],
  })
}

function second(
  seed: number,
  random: Random,
  logger: (box: Box) => Box,
  durationS: readonly [number, number],
): Measured {
  const { style, ...rest } = secondCase({ seed, durationS })
  const other = randomSecondStyle(random.fork('logger'))
  return simulateSecond({
    ...rest,
    boxes: (build) => [...secondBoxes(build, style), ...secondBoxes(build, other).map(logger)],
  })
}
