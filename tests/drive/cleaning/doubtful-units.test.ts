import { describe, expect, it } from 'vitest'
import type { Drive } from '../../../shared/drive.ts'
import { buildDrive } from '../../../src/drive/build-drive.ts'
import { readLog } from '../../../src/importers/registry.ts'
import { unitsInDoubt } from '../../../src/log/questions/units-in-doubt.ts'
import { gatherFacts } from '../../../src/review/run-all.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const driveFrom = async (text: string): Promise<Drive> =>
  buildDrive([await readLog(logFromBytes('drive.csv', text), {})])

/** A small drive to 60 km/h as a wide CSV; volts and amperes times so much, under so much of a head. */
const csv = (volt: string, volts: number, ampere: string, amperes: number): string =>
  [
    `time [s],speed [km/h],pack voltage [${volt}],pack current [${ampere}]`,
    ...Array.from({ length: 600 }, (_, i) => {
      const s = i / 10
      const a = s < 5 ? 1 : s < 35 ? 90 + 20 * Math.sin(s) : -30
      return [s, Math.min(60, Math.max(0, 2 * (s - 5))), (350 - 0.1 * a) * volts, a * amperes].join(',')
    }),
  ].join('\n')

describe('a unit that its values contradict', () => {
  it.each([
    ['A for mA in the head', csv('V', 1, 'mA', 1), 'pack_current', 0.001],
    ['values in mA under A', csv('V', 1, 'A', 1000), 'pack_current', 1000],
    ['values in mV under V', csv('V', 1000, 'A', 1), 'pack_voltage', 1000],
  ] as const)(
    '%s: a note with the factor, and the channel is judged by nobody',
    async (_, text, id, factor) => {
      const drive = await driveFrom(text)
      const answer = unitsInDoubt(gatherFacts(drive, {}))
      expect(answer.findings).toMatchObject([
        { kind: 'unit-doubtful', severity: 'note', subject: { type: 'channel', name: id }, value: factor },
      ])
      expect(drive.channels.has(id)).toBe(false)
    },
  )

  it('right units raise no doubt', async () => {
    expect((await driveFrom(csv('V', 1, 'A', 1))).doubts).toBeUndefined()
    expect((await driveFrom(csv('mV', 1000, 'mA', 1000))).doubts).toBeUndefined()
  })
})
