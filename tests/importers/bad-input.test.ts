import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, test } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import { LogError } from '../../src/errors.ts'
import { readWideCsv } from '../../src/importers/table/wide-csv.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { logFromBytes } from '../helpers/log-from-bytes.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-bad-'))
afterAll(() => rmSync(folder, { recursive: true }))

const file = (name: string, body: string | Uint8Array): string => {
  const path = join(folder, name)
  writeFileSync(path, body)
  return path
}
const open = (name: string, body: string | Uint8Array): Promise<Drive> => openDrive([file(name, body)])
const rows = (count: number, row: (i: number) => string): string =>
  `${Array.from({ length: count }, (_, i) => row(i)).join('\n')}\n`
const GOOD = `Time [s],Pack voltage [V],Pack current [A]\n${rows(50, (i) => `${(i / 10).toFixed(1)},${(370 - i * 0.1).toFixed(1)},${i}`)}`

async function refusal(opened: Promise<unknown>): Promise<string> {
  const error = await opened.then(
    () => null,
    (reason: unknown) => reason,
  )
  expect(error).toBeInstanceOf(LogError)
  return (error as LogError).message
}

describe('unusable input is refused in one sentence that names the file, the place, what was found and expected', () => {
  const photo = Buffer.concat([Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 16]), Buffer.alloc(2000, 7)])
  const cases: readonly (readonly [what: string, body: string | Uint8Array, says: RegExp])[] = [
    ['an empty file', '', /the file is empty; a log was expected/],
    ['blank lines', '\n\n\n', /blank lines only/],
    ['a photo renamed', photo, /byte 4 is 0x00, which no text holds; a log as text \(CSV\) was expected/],
    ['a workbook renamed', Buffer.concat([Buffer.from('PK\x03\x04'), Buffer.alloc(500, 1)]), /zip archive/],
    ['a header alone', 'Time [s],Pack voltage [V]\n', /only line 1 holds anything .*rows of values/],
    [
      'prose',
      'Dear all,\nthis is no log\nat all, really\n',
      /no table; a header and at least one row of numbers/,
    ],
    [
      'no time column',
      `Pack voltage [V],Pack current [A]\n${rows(20, (i) => `${370 - (i % 3)},${(i * 7) % 5}`)}`,
      /line 1 names no time column .*time, timestamp or the like was expected/,
    ],
    ['an endless line', Buffer.alloc(400_000, 'a'), /line 1 is longer than \d+ bytes/],
    [
      'words only',
      `time,state\n${rows(20, (i) => `${i},READY`)}`,
      /rows? of numbers|no column after line 1 holds numbers/,
    ],
    ['an empty gzip file', gzipSync(''), /a log was expected/],
  ]
  for (const [what, body, says] of cases)
    test(what, async () => {
      const message = await refusal(open('bad.csv', body))
      expect(message).toMatch(says)
      expect(message).toMatch(/bad\.csv/)
      expect(message.match(/\.(\s|$)/g)).toHaveLength(1)
    })

  test('a missing file', async () => {
    expect(await refusal(openDrive([join(folder, 'nowhere.csv')]))).toMatch(
      /nowhere\.csv: there is no such file; a log was expected/,
    )
  })

  test('a folder', async () => {
    expect(await refusal(openDrive([folder]))).toMatch(/is not a file/)
  })
})

describe('a damaged log is reviewed as far as it is sound, and what was left out is counted', () => {
  const told = (drive: Drive): string =>
    drive.files[0]!.skipped.map((each) => `${each.what}: ${each.count}, ${each.first}`).join('\n')

  test('cut in mid-line', async () => {
    const drive = await open('cut.csv', GOOD.slice(0, -6))
    expect(drive.files[0]!.rows).toBe(49)
    expect(told(drive)).toMatch(/ends in the middle of a line: 1, line 51/)
  })

  test('without a last line end nothing is cut', async () => {
    const drive = await open('uncut.csv', GOOD.slice(0, -1))
    expect(drive.files[0]!.rows).toBe(50)
    expect(told(drive)).toBe('')
  })

  test('text in a number field is NaN there, counted with its line', async () => {
    const drive = await open('text.csv', GOOD.replace('\n1.0,369.0', '\n1.0,oops'))
    expect(told(drive)).toMatch(/"Pack voltage \[V\]": text in a number field: 1, line 12: "oops"/)
    expect(drive.channels.get('pack_voltage')!.values[10]).toBeNaN()
    expect(drive.channels.get('pack_current')!.values[10]).toBe(10)
  })

  test('rows with another number of fields are left out whole', async () => {
    const drive = await open('count.csv', GOOD.replace('\n2.0,', '\n2.0,1,2,3,').replace('\n3.0,', '\n'))
    expect(told(drive)).toMatch(/more or fewer fields than the header's 3: 2, line 22/)
    expect(drive.channels.get('pack_voltage')!.timeS).toHaveLength(48)
  })

  test('a line of 5 MiB is not gathered', async () => {
    const drive = await open('long-line.csv', GOOD + 'x'.repeat(5 << 20))
    expect(told(drive)).toMatch(/line 52 is longer than 4 MiB/)
    expect(drive.files[0]!.rows).toBe(50)
  })

  test('gzip that breaks off', async () => {
    const whole = gzipSync(
      GOOD +
        rows(
          20_000,
          (i) => `${(i / 10 + 5).toFixed(1)},${(370 + Math.sin(i)).toFixed(4)},${Math.cos(i).toFixed(3)}`,
        ),
    )
    const drive = await open('broken.csv.gz', whole.subarray(0, 60_000))
    expect(drive.files[0]!.rows).toBeGreaterThan(1000)
    expect(told(drive)).toMatch(/the gzip data breaks off/)
  })

  test('zeros to the end, as a box leaves that lost its supply', async () => {
    const drive = await open('zeros.csv', Buffer.concat([Buffer.from(GOOD), Buffer.alloc(3000)]))
    expect(drive.files[0]!.rows).toBe(50)
    expect(told(drive)).toMatch(/ends in the middle of a line: 1, line 52/)
  })

  test('a quote that is never closed costs its line only', async () => {
    const drive = await open('quote.csv', GOOD.replace('\n1.0,369.0', '\n1.0,"369.0'))
    expect(told(drive)).toMatch(/a quote that is never closed: 1, line 12/)
    expect(drive.files[0]!.rows).toBe(49)
  })
})

describe('spreadsheet damage', () => {
  const told = (drive: Drive): string =>
    drive.files[0]!.skipped.map((each) => `${each.what}: ${each.count}, ${each.first}`).join('\n')

  test('values turned to dates and ##### are refused with their row', async () => {
    const bad = ['3-Apr', 'Apr 03', '#####', '03.04.2026']
    const drive = await open(
      'dates.csv',
      `Time [s],Cell 1 [V]\n${rows(40, (i) => `${i / 10},${i >= 20 && i < 24 ? bad[i - 20] : `3.9${i % 10}`}`)}`,
    )
    expect(told(drive)).toMatch(/turned into a date: 3, line 22: "3-Apr"/)
    expect(told(drive)).toMatch(/#####.*: 1, line 24/)
    expect([...drive.channels.get('cell_voltage.1')!.values.subarray(20, 24)].every(Number.isNaN)).toBe(true)
  })

  test('a sep= line, decimal commas, thousands marks', async () => {
    const drive = await open(
      'sep.csv',
      `sep=;\nTime [s];Pack voltage [V];Motor speed [rpm]\n${rows(40, (i) => `${Math.floor(i / 10)},${i % 10};37${i % 10},5;1.${200 + i}`)}`,
    )
    expect(drive.channels.get('pack_voltage')!.values[3]).toBe(373.5)
    expect(drive.channels.get('motor_speed')!.values[3]).toBe(1203)
    expect(told(drive)).toMatch(/"Motor speed \[rpm\]": thousands marks taken out: 40, line 3/)
  })

  test('mm:ss.0 without hours runs on past the hour; said', async () => {
    const drive = await open(
      'minutes.csv',
      `Time,Pack voltage [V]\n${rows(100, (i) => `${String(Math.floor((3590 + i) / 60) % 60).padStart(2, '0')}:${String((3590 + i) % 60).padStart(2, '0')}.0,370`)}`,
    )
    expect(drive.durationS).toBeCloseTo(99, 9)
    expect(drive.assumptions.join()).toMatch(/carry no hours/)
  })

  test('day numbers of a spreadsheet: 46095 is 2026-03-14 (1899-12-30 + 46095 days)', async () => {
    const drive = await open(
      'serial.csv',
      `Time,Pack voltage [V]\n${rows(100, (i) => `${(46095.384 + i / 86400).toFixed(9)},370`)}`,
    )
    expect(drive.startedAt).toBe('2026-03-14T09:12:57.600')
    expect(drive.durationS).toBeCloseTo(99, 3)
  })

  test('exactly as many lines as a spreadsheet keeps', async () => {
    const text = `t [s],Speed [km/h]\n${rows(1_048_575, (i) => `${i},${i % 90}`)}`
    const log = await readWideCsv(logFromBytes('full.csv', text))
    expect(log.skipped.map((each) => each.what).join()).toMatch(/1,048,576/)
  })
})
