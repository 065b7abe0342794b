import { expect, test } from 'vitest'
import { missingBrakeSignal } from '../../src/brake/models/brake-signal.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** A table of 50 rows a second that holds a brake pressure of ten a second, in steps of 0.1 bar: our own writer. */
function held(standsFromS: number, standsToS: number, bar: number) {
  const timeS = Array.from({ length: 6000 }, (_, i) => i / 50)
  const read = (k: number): number =>
    k / 10 >= standsFromS && k / 10 < standsToS ? bar : 0.3 + 0.1 * (k % 2) + (k % 400 > 300 ? 8 : 0)
  const drive = driveFromColumns(timeS, {
    speed: timeS.map((s) => 40 + 5 * Math.sin(s / 9)),
    torque: timeS.map((s) => 20 * Math.sin(s / 7)),
    pedal_position: timeS.map((s) => Math.max(0, 20 * Math.sin(s / 7))),
    brake_pressure: timeS.map((_, i) => read(Math.floor(i / 5))),
  })
  const channels = new Map(drive.channels)
  const pressure = channels.get('brake_pressure')!
  channels.set('brake_pressure', {
    ...pressure,
    fresh: Uint8Array.from(pressure.values, (value, i) =>
      i === 0 || value !== pressure.values[i - 1] ? 1 : 0,
    ),
  })
  return missingBrakeSignal(gatherFacts({ ...drive, channels }, {}))
}

test('a free brake whose rounded reading stands still for a second is not missing', () => {
  expect(held(60, 61.2, 0.3)!.gaps).toEqual([])
})
test('a pressed one that stands still for ten seconds of driving is', () => {
  expect(held(75, 85, 8.3)!.gaps.length).toBeGreaterThan(0)
})
