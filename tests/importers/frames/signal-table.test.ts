import { describe, expect, test } from 'vitest'
import { parseSignalTable } from '../../../src/importers/frames/signal-table.ts'
import { pcapOf } from '../../helpers/capture-bytes.ts'
import { frameLogFromBytes } from '../../helpers/frame-log-from-bytes.ts'

const ROW = { identifier: '0x123', name: 'one', start_bit: 0, length: 8, byte_order: 'little' }

const json = (...signals: object[]) =>
  parseSignalTable('signals.json', Buffer.from(JSON.stringify({ signals })))
const csv = (text: string) => parseSignalTable('signals.csv', Buffer.from(text))

describe('signal table', () => {
  test('JSON with defaults: unsigned, factor 1, offset 0, extended by the size of the identifier', () => {
    const [first, second] = json(ROW, { ...ROW, identifier: 0x18fef100, name: 'two' }).signals
    expect(first).toMatchObject({
      row: 1,
      key: 0x123,
      signed: false,
      factor: 1,
      offset: 0,
      selector: null,
      invalid: [],
    })
    expect(second!.key).toBe(0x18fef100 | 0x80000000 | 0)
  })

  test('CSV in any order and case, semicolons and decimal commas, gives the same as JSON', () => {
    const [signal] = csv(
      'Name;Identifier;ByteOrder;START BIT;length;Factor;offset;Signed;Extended;unit;Invalid;period ms;Node\n' +
        'Torque;291;Big;7;16;0,5;-40;yes;false;Nm;0xFFFF 32767;10;inverter\n',
    ).signals
    expect(signal).toMatchObject({
      key: 0x123,
      name: 'Torque',
      byteOrder: 'big',
      startBit: 7,
      length: 16,
      factor: 0.5,
      offset: -40,
      signed: true,
      unit: 'Nm',
      invalid: [-1, 32767],
      periodS: 0.01,
      node: 'inverter',
    })
  })

  test.each([
    [
      'a missing length',
      [{ ...ROW, length: undefined }],
      'row 1 ("one"): length is missing; a whole number 1 … 64 was expected',
    ],
    ['a length of 0', [{ ...ROW, length: 0 }], 'row 1 ("one"): length is 0'],
    [
      'a byte order in other words',
      [ROW, { ...ROW, name: 'two', byte_order: 'middle' }],
      'row 2 ("two"): byte_order is "middle"; "little" or "big" was expected',
    ],
    [
      'a name twice',
      [ROW, { ...ROW, name: 'One', start_bit: 8 }],
      'row 2: the name "One" is already that of row 1',
    ],
    [
      'an overlap',
      [ROW, { ...ROW, name: 'two', start_bit: 7 }],
      'row 2 ("two") overlaps row 1 ("one") in frame 0x123',
    ],
    [
      'an overlap of both byte orders',
      [
        { ...ROW, length: 16 },
        { ...ROW, name: 'two', start_bit: 15, byte_order: 'big' },
      ],
      'row 2 ("two") overlaps row 1',
    ],
    ['a field past byte 63', [{ ...ROW, start_bit: 510 }], 'row 1 ("one"): the field runs past byte 63'],
    [
      'an identifier too large for 11 bits',
      [{ ...ROW, identifier: 0x800, extended: false }],
      'row 1 ("one"): identifier 0x800 has more than 11 bits but extended is false',
    ],
    [
      'an identifier of over 29 bits',
      [{ ...ROW, identifier: 0x20000000 }],
      'row 1 ("one"): identifier is 536870912',
    ],
    [
      'half a selector',
      [{ ...ROW, selector_value: 1 }],
      'row 1 ("one"): selector_start_bit, selector_length and selector_value belong together',
    ],
    [
      'a selector value that does not fit',
      [{ ...ROW, start_bit: 8, selector_start_bit: 0, selector_length: 2, selector_value: 4 }],
      'selector_value 4 needs more than 2 bits',
    ],
    [
      'a signal on its own selector',
      [{ ...ROW, selector_start_bit: 4, selector_length: 8, selector_value: 1 }],
      'the selector',
    ],
    ['a row that is no object', [7], 'row 1: '],
  ])('%s is an error that names the row', (_, rows, words) => {
    expect(() => json(...(rows as object[]))).toThrow(words)
  })

  test.each([
    ['{', 'is no JSON'],
    ['{}', 'has no list "signals"'],
    ['{"signals":[]}', 'holds no signal'],
    ['{"signals":[], "bit_rate": -1}', 'bit_rate'],
    ['name,identifier\n"a', 'not a sound CSV table'],
    ['', 'holds no signal'],
  ])('%s is an error', (text, words) => {
    expect(() => csv(text)).toThrow(words)
  })

  test('signals of different selector values may share bits, and a signal may read the selector itself', () => {
    const selected = {
      selector_start_bit: 0,
      selector_length: 8,
      byte_order: 'little',
      length: 8,
      start_bit: 8,
    }
    const table = json(
      { ...ROW, name: 'page' },
      { ...ROW, ...selected, name: 'a', selector_value: 0 },
      { ...ROW, ...selected, name: 'b', selector_value: 1 },
    )
    expect(table.signals).toHaveLength(3)
    expect(() =>
      json(
        { ...ROW, ...selected, name: 'a', selector_value: 0 },
        { ...ROW, ...selected, name: 'b', selector_value: 0 },
      ),
    ).toThrow('overlaps')
  })
})

describe('signals of a log', () => {
  const frame = (ms: number, ...data: number[]) => ({
    ns: 1_700_000_000_000_000_000n + BigInt(ms) * 1_000_000n,
    identifier: 0x123,
    data,
  })

  test('multiplexed signals come only with their selector value; other values are counted', async () => {
    const selected = {
      identifier: 0x123,
      start_bit: 8,
      length: 8,
      byte_order: 'little',
      selector_start_bit: 0,
      selector_length: 4,
    }
    const log = await frameLogFromBytes(
      pcapOf([frame(0, 0x10, 5), frame(10, 0x01, 6), frame(20, 0x20, 7), frame(30, 0x0f, 8)]),
      [
        { ...selected, name: 'even', selector_value: 0 },
        { ...selected, name: 'odd', selector_value: 1 },
      ],
    )
    expect(log.series.map((each) => [each.name, [...each.values]])).toEqual([
      ['even', [5, 7]],
      ['odd', [6]],
    ])
    expect([...log.series[0]!.timeS].map((s) => s.toFixed(2))).toEqual(['0.00', '0.02'])
    expect(log.skipped).toEqual([
      { what: 'frames with a selector value that no signal names', count: 1, first: 'frame 0x123' },
    ])
  })

  test('a field past the end of every frame is an error that names the row', async () => {
    await expect(
      frameLogFromBytes(pcapOf([frame(0, 1, 2)]), [ROW, { ...ROW, name: 'far', start_bit: 16 }]),
    ).rejects.toThrow('row 2 ("far") reaches byte 2, past the end of frame 0x123, which has 2 bytes')
  })

  test('signals carry name, unit, node and channel as the table has them', async () => {
    const log = await frameLogFromBytes(pcapOf([frame(0, 1)]), [
      { ...ROW, unit: 'V', node: 'bms', channel: 'pack_voltage' },
    ])
    expect(log.series[0]).toMatchObject({ name: 'one', unit: 'V', node: 'bms', channel: 'pack_voltage' })
  })

  test('signals read from one identifier share one time base', async () => {
    const log = await frameLogFromBytes(pcapOf([frame(0, 1, 2)]), [
      ROW,
      { ...ROW, name: 'two', start_bit: 8 },
    ])
    expect(log.series[0]!.timeS).toBe(log.series[1]!.timeS)
  })

  test('an invalid value of 64 bits, written in hexadecimal', async () => {
    const log = await frameLogFromBytes(pcapOf([frame(0, 255, 255, 255, 255, 255, 255, 255, 255)]), [
      { ...ROW, length: 64, invalid: ['0xFFFFFFFFFFFFFFFF'], period_ms: 0, byte_order: 'little-endian' },
    ])
    expect([...log.series[0]!.values]).toEqual([Number.NaN])
    expect(log.skipped).toEqual([{ what: 'raw values that mean no value', count: 1, first: 'signal one' }])
  })

  test('64-bit signals keep what a double can', async () => {
    const log = await frameLogFromBytes(pcapOf([frame(0, 255, 255, 255, 255, 255, 255, 255, 255)]), [
      { ...ROW, length: 64 },
    ])
    expect(log.series[0]!.values[0]).toBe(Number(2n ** 64n - 1n))
  })
})
