import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { LogError } from '../../src/errors.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { channelsJson, channelsText } from '../../src/report/channels-text.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-map-'))
afterAll(() => rmSync(folder, { recursive: true }))
const file = (name: string, body: string): string => {
  const path = join(folder, name)
  writeFileSync(path, body)
  return path
}

const LOG = file(
  'log.csv',
  `time [s],Pack voltage [V],Sonde 7,Spare,Pack current [A]\n${Array.from({ length: 30 }, (_, i) => `${i / 10},${370 - i / 10},${68 + i},${i},${i}`).join('\n')}\n`,
)
const map = (body: unknown): string =>
  file('map.json', typeof body === 'string' ? body : JSON.stringify(body))

describe('a map of columns', () => {
  test('names, gives units, leaves out; the review says so', async () => {
    const drive = await openDrive([LOG], {
      map: map({
        'Sonde 7': { channel: 'motor_temperature', unit: '°F' },
        Spare: null,
        'Pack voltage [V]': 'link_voltage',
      }),
    })
    expect(drive.channels.get('motor_temperature')!.values[0]).toBeCloseTo(20, 9)
    expect(drive.channels.has('link_voltage')).toBe(true)
    expect(drive.channels.has('pack_voltage')).toBe(false)
    expect([...drive.channels.keys()]).not.toContain('Spare')
    expect(drive.reports.find((report) => report.id === 'motor_temperature')).toMatchObject({
      sureness: 1,
      why: 'named by the map',
    })
    expect(drive.files[0]!.skipped).toEqual([
      { what: 'columns left out by the map', count: 1, first: '"Spare"' },
    ])
  })

  test('kept corrections come before names, the map before both; their use is said', async () => {
    const remembered = () => ({
      'Sonde 7': { channel: 'coolant_in', unit: null },
      Spare: { channel: 'brake_travel', unit: null },
    })
    const drive = await openDrive([LOG], { remembered, map: map({ 'Sonde 7': 'coolant_out' }) })
    expect(drive.channels.has('coolant_out')).toBe(true)
    expect(drive.channels.has('coolant_in')).toBe(false)
    expect(drive.reports.find((report) => report.id === 'brake_travel')!.why).toMatch(
      /correction kept for this layout/,
    )
    expect(drive.assumptions.join()).toMatch(/Corrections kept for this layout were used/)
  })

  const bad: readonly (readonly [what: string, body: unknown, says: RegExp])[] = [
    ['no JSON', '{', /map\.json: is no JSON/],
    ['an unknown channel', { Spare: 'pack_volts' }, /"Spare" is mapped to "pack_volts", which is no channel/],
    [
      'an unknown unit',
      { Spare: { channel: 'soc', unit: 'furlong' } },
      /the unit "furlong", which is not understood/,
    ],
    ['a column that no log has', { Sprae: 'soc' }, /no log has a column "Sprae"/],
    ['a number for a channel', { Spare: 7 }, /"Spare" is not understood/],
  ]
  for (const [what, body, says] of bad)
    test(`${what} is refused in one sentence`, async () => {
      const error = await openDrive([LOG], { map: map(body) }).catch((reason: unknown) => reason)
      expect(error).toBeInstanceOf(LogError)
      expect((error as LogError).message).toMatch(says)
    })
})

test('aftermile channels tells how each column was understood and what was left over', async () => {
  const drive = await openDrive([LOG])
  const text = channelsText(drive)
  expect(text).toMatch(/pack_voltage\s+← Pack voltage \[V\]\s+30 samples, 10 Hz\s+sure 0\.9\d/)
  expect(text).toMatch(/left over, kept under their own names \(2\):\n {4}Sonde 7: .*\n {4}Spare: /)
  const json = JSON.parse(channelsJson(drive)) as { channels: { id: string }[]; left_over: { id: string }[] }
  expect(json.channels.map((each) => each.id)).toEqual(['pack_voltage', 'pack_current'])
  expect(json.left_over.map((each) => each.id)).toEqual(['Sonde 7', 'Spare'])
})
