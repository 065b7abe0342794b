import { writeFileSync } from 'node:fs'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { parseSignalTable, readSignalTable } from '../../../../src/importers/frames/signal-table.ts'
import { readSystemDescription } from '../../../../src/importers/frames/system-description/system-description.ts'
import { logFromBytes } from '../../../helpers/log-from-bytes.ts'

/** The same frames described as JSON: what `hand.arxml` must come to. Source: AUTOSAR TPS System Template, from memory. */
const SAME = {
  bit_rate: 500000,
  signals: [
    {
      identifier: 545,
      extended: false,
      node: 'Inverter',
      name: 'MotorSpeed',
      start_bit: 0,
      length: 16,
      byte_order: 'little',
      signed: true,
      factor: 0.5,
      unit: 'rpm',
      invalid: [-32768],
      period_ms: 10,
    },
    {
      identifier: 545,
      extended: false,
      node: 'Inverter',
      name: 'Torque',
      start_bit: 23,
      length: 12,
      byte_order: 'big',
      factor: 0.1,
      offset: -200,
      unit: 'Nm',
      period_ms: 10,
    },
    {
      identifier: 545,
      extended: false,
      node: 'Inverter',
      name: 'MotorTemp',
      start_bit: 32,
      length: 8,
      byte_order: 'little',
      offset: -40,
      unit: '°C',
      invalid: [254, 255],
      period_ms: 10,
    },
    {
      identifier: 545,
      extended: false,
      node: 'Inverter',
      name: 'State',
      start_bit: 40,
      length: 3,
      byte_order: 'little',
      period_ms: 10,
    },
    {
      identifier: 418382592,
      extended: true,
      name: 'Cell1',
      start_bit: 15,
      length: 16,
      byte_order: 'big',
      factor: 0.001,
      unit: 'V',
      selector_start_bit: 3,
      selector_length: 4,
      selector_value: 0,
    },
    {
      identifier: 418382592,
      extended: true,
      name: 'Cell2',
      start_bit: 15,
      length: 16,
      byte_order: 'big',
      factor: 0.001,
      unit: 'V',
      selector_start_bit: 3,
      selector_length: 4,
      selector_value: 1,
    },
  ],
}

let folder = ''
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'arxml-'))
})
afterAll(() => rm(folder, { recursive: true }))

describe('AUTOSAR system description', () => {
  test('comes to the same signals as the JSON table', async () => {
    const read = await readSignalTable(join(import.meta.dirname, 'hand.arxml'))
    const same = parseSignalTable('same', Buffer.from(JSON.stringify(SAME)))
    expect(read.signals).toEqual(same.signals)
    expect(read.bitRate).toBe(500000)
    expect(read.notes).toEqual([])
  })

  test('no entity is expanded: a file that defines its own is refused, with the line', async () => {
    const path = join(folder, 'bomb.arxml')
    writeFileSync(
      path,
      '<?xml version="1.0"?>\n<!DOCTYPE AUTOSAR [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>\n<AUTOSAR><AR-PACKAGES><AR-PACKAGE><SHORT-NAME>&b;</SHORT-NAME></AR-PACKAGE></AR-PACKAGES></AUTOSAR>',
    )
    await expect(readSignalTable(path)).rejects.toThrow(
      /bomb\.arxml: line 3: undefined entity.*was expected\.$/,
    )
  })

  test('a broken file is refused with its line; another XML file too', async () => {
    const read = (text: string) => readSystemDescription(logFromBytes('x.arxml', text))
    await expect(read('<AUTOSAR>\n<AR-PACKAGES></AUTOSAR>')).rejects.toThrow(/x\.arxml: line 2: /)
    await expect(read('<html></html>')).rejects.toThrow('begins with <html>')
  })

  test('what is not kept streams by: 60 MB of other elements in bounded memory', async () => {
    const other = Buffer.from(
      `<APPLICATION-SW><SHORT-NAME>x</SHORT-NAME><DESC>${'filler '.repeat(2000)}</DESC></APPLICATION-SW>`.repeat(
        75,
      ),
    )
    const source = {
      ...logFromBytes('large.arxml', '<AUTOSAR>'),
      async *chunks() {
        yield Buffer.from('<AUTOSAR><AR-PACKAGES>')
        for (let i = 0; i < 56; i++) yield other
        yield Buffer.from('</AR-PACKAGES></AUTOSAR>')
      },
    }
    const before = process.memoryUsage().rss
    const { rows } = await readSystemDescription(source)
    expect(rows).toEqual([])
    expect(process.memoryUsage().rss - before).toBeLessThan(200e6)
  })
})
