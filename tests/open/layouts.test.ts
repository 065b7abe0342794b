import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { type Channel, channelNamed, type Drive } from '../../shared/drive.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { linearAt } from '../../src/samples/on-one-clock.ts'
import { oneBox, twoBoxes } from '../simulator/boxes.ts'
import { type SimulateOptions, simulate } from '../simulator/simulate.ts'
import { allLayouts } from '../simulator/writers/layouts.ts'
import { writeWideCsv } from '../simulator/writers/wide-csv.ts'

/** One drive with a bad joint, in every layout: the same channels to within a step, the same findings. */
const OPTIONS: SimulateOptions = {
  seed: 77,
  car: { pack: { cellsPerModule: [8, 8, 8, 8] } },
  route: { kind: 'mixed', durationS: 80 },
  faults: [{ kind: 'joint', cell: 21, ohm: 0.0008 }],
  driver: { restS: 10 },
}
const STYLE = { vehicleHz: 20, currentHz: 20, cellHz: 10 }
const made = simulate({ ...OPTIONS, boxes: (car) => oneBox(car, STYLE) })
const folder = mkdtempSync(join(tmpdir(), 'aftermile-layouts-'))
afterAll(() => rmSync(folder, { recursive: true }))

const loud = (drive: Drive): string[] =>
  reviewDrive(drive, made.vehicle)
    .findings.filter((finding) => finding.severity !== 'note')
    .map(
      (finding) =>
        `${finding.severity} ${finding.kind} ${finding.subject.index ?? finding.subject.name ?? ''}`,
    )
    .sort()

/** Most that a channel's values differ from the reference's, at the reference's own moments. */
function worst(got: Channel, want: Channel): number {
  // Frames leave within 10 ms after their sample; a straight line between two samples hides that for slow channels.
  const at = linearAt(got, want.timeS)
  let most = 0
  for (let i = 1; i < at.length - 1; i++)
    if (!Number.isNaN(at[i]!)) most = Math.max(most, Math.abs(at[i]! - want.values[i]!))
  return most
}

/** What the drive itself gives, reviewed once. */
let once: string[] | null = null
const wanted = (): string[] => {
  once ??= loud(made.drive)
  return once
}

describe.each(allLayouts(made))('$name', ({ name, log, signals }) => {
  const opened = (async () => {
    const own = join(folder, name.replace(/\W+/g, '-'))
    const path = `${own}-${log.name}`
    writeFileSync(path, log.bytes)
    const table = signals ? `${own}-${signals.name}` : null
    if (table) writeFileSync(table, signals!.bytes)
    return openDrive([path], { vehicle: made.vehicle, ...(table ? { signals: table } : {}) })
  })()

  test('every channel is there, by its right name', async () => {
    const { channels } = await opened
    const missing = [...made.drive.channels.keys()].filter((id) => !channelNamed(channels, id))
    expect(missing).toEqual([])
  })

  test('values are the samples’ to within a step', async () => {
    const { channels } = await opened
    const stampedLate = signals !== null
    for (const want of made.drive.channels.values()) {
      const got = channelNamed(channels, want.id)
      if (!got) continue
      // A frame is stamped up to 10 ms late: allowed what the channel moves in that time.
      const moves = stampedLate ? fastest(want) * 0.011 : 0
      expect(worst(got, want), want.id).toBeLessThanOrEqual(0.51 * want.step + moves + 1e-6)
      expect(Math.abs(got.timeS.length - want.timeS.length), want.id).toBeLessThanOrEqual(1)
    }
  })

  test('the findings above a note are the same', async () => {
    expect(loud(await opened)).toEqual(wanted())
  })
})

/** Fastest change of a channel, per second. */
function fastest(channel: Channel): number {
  let most = 0
  for (let i = 1; i < channel.values.length; i++)
    most = Math.max(
      most,
      Math.abs(channel.values[i]! - channel.values[i - 1]!) / (channel.timeS[i]! - channel.timeS[i - 1]!),
    )
  return most
}

test('a logger that repeats every value on each row gives the same findings', async () => {
  const held = simulate({ ...OPTIONS, boxes: (car) => oneBox(car, { ...STYLE, held: true }) })
  const path = join(folder, 'held.csv')
  const dialect = {
    delimiter: ',',
    decimal: '.',
    time: 'seconds',
    names: 'words',
    unitsIn: 'brackets',
  } as const
  writeFileSync(path, writeWideCsv(held.samples, held.boxes[0]!, dialect))
  expect(loud(await openDrive([path], { vehicle: made.vehicle }))).toEqual(wanted())
})

test('two boxes on two clocks give the same findings', async () => {
  const clock = { offsetS: 12.5, driftPpm: 40, startsAt: null }
  const apart = simulate({ ...OPTIONS, boxes: (car) => twoBoxes(car, STYLE, { vehicle: clock }) })
  const dialect = {
    delimiter: ';',
    decimal: '.',
    time: 'seconds',
    names: 'words',
    unitsIn: 'brackets',
  } as const
  const paths = apart.boxes.map((box) => {
    const path = join(folder, `${box.name}.csv`)
    writeFileSync(path, writeWideCsv(apart.samples, box, dialect))
    return path
  })
  expect(loud(await openDrive(paths, { vehicle: made.vehicle }))).toEqual(wanted())
})

test('the drive in memory shows the joint', () => {
  expect(loud(made.drive)).toContain('attention joint-resistance-high 21')
})
