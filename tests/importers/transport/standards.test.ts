import { describe, expect, test } from 'vitest'
import { canopenText } from '../../../src/importers/transport/canopen.ts'
import { currentData } from '../../../src/importers/transport/current-data.ts'
import { diagnosticText } from '../../../src/importers/transport/diagnostics.ts'
import { IsoTpReader } from '../../../src/importers/transport/iso-tp.ts'
import { J1939Reader, splitJ1939 } from '../../../src/importers/transport/j1939.ts'
import { troubleCode } from '../../../src/importers/transport/trouble-code.ts'
import { hex } from '../../helpers/frame-log-from-bytes.ts'

function isoTp(frames: readonly string[], extended = false): IsoTpReader {
  const reader = new IsoTpReader(extended)
  frames.forEach((frame, i) => {
    reader.frame(i * 0.01, hex(frame))
  })
  reader.end()
  return reader
}
const text = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex').toUpperCase()

describe('ISO 15765-2 (source: the standard, worked example S4 of the checked values; the rest from memory)', () => {
  test('20 bytes: first frame 10 14 + 6, then 21 + 7, 22 + 7', () => {
    const { messages, gaps } = isoTp([
      '10 14 00 01 02 03 04 05',
      '30 00 0A',
      '21 06 07 08 09 0A 0B 0C',
      '22 0D 0E 0F 10 11 12 13',
    ])
    expect(messages.map(({ bytes }) => text(bytes))).toEqual(['000102030405060708090A0B0C0D0E0F10111213'])
    expect(gaps).toEqual([])
  })

  test('10 0F: length 15, nine bytes follow; padding is told', () => {
    const { messages } = isoTp([
      '10 0F 41 0B 21 0C 0C 38',
      '21 0D 00 05 7B 11 22 33',
      '22 44 55 CC CC CC CC CC',
    ])
    expect(messages[0]!.bytes.length).toBe(15)
    expect(messages[0]!.padding).toBe(0xcc)
  })

  test('a single frame of length 0 or over 7, and a first frame under 8, are ignored', () => {
    const { messages, gaps } = isoTp([
      '00 11 22 33 44 55 66 77',
      '08 11 22 33 44 55 66 77',
      '10 07 11 22 33 44 55 66',
    ])
    expect(messages).toEqual([])
    expect(gaps).toHaveLength(3)
  })

  test('flow control: go on, wait, too much, with block size and least gap (0x05 = 5 ms, 0xF3 = 0.3 ms)', () => {
    expect(isoTp(['30 08 05', '31 00 00', '32 00 F3']).flow).toMatchObject([
      { status: 'go on', blockSize: 8, leastGapS: 0.005 },
      { status: 'wait', leastGapS: 0 },
      { status: 'too much', leastGapS: 0.0003 },
    ])
  })

  test('a lost frame breaks the message, and says which', () => {
    const { messages, gaps } = isoTp(['10 14 00 01 02 03 04 05', '22 0D 0E 0F 10 11 12 13'])
    expect(messages).toEqual([])
    expect(gaps[0]!.what).toBe('6 of 20 bytes: frame 2 came where 1 was due')
  })

  test('sequence numbers go 1 … 15, 0, 1: 120 bytes', () => {
    const payload = Uint8Array.from({ length: 120 }, (_, i) => i)
    const reader = new IsoTpReader()
    reader.frame(0, Uint8Array.from([0x10, 120, ...payload.subarray(0, 6)]))
    for (let n = 1, at = 6; at < 120; n++, at += 7)
      reader.frame(n * 0.001, Uint8Array.from([0x20 | (n & 15), ...payload.subarray(at, at + 7)]))
    expect(reader.messages[0]!.bytes).toEqual(payload)
  })

  test('extended addressing: the first byte is an address; FD: 00 nn and more bytes a frame', () => {
    expect(isoTp(['F1 03 22 F1 90'], true).messages[0]!.bytes).toEqual(hex('22 F1 90'))
    expect(isoTp([`00 0A ${'11 '.repeat(10)} 00 00 00 00`]).messages[0]!.bytes).toEqual(hex('11 '.repeat(10)))
  })
})

describe('SAE J1939-21', () => {
  test.each([
    [0x0cf00400, 3, 61444, 0, null],
    [0x18f0010b, 6, 61441, 11, null],
    [0x0c820e0f, 3, 33280, 15, 14],
    [0x18ea00f9, 6, 59904, 249, 0],
  ])(
    'identifier %i (source: SAE J1939-21, Linux j1939.rst; checked values S2)',
    (identifier, priority, group, source, destination) => {
      expect(splitJ1939(identifier)).toEqual({ priority, group, source, destination })
    },
  )

  test('broadcast of 20 bytes of group 0xFEEC: 20 14 00 03 FF EC FE 00, three packets (checked values S3)', () => {
    const reader = new J1939Reader()
    reader.frame(0, 0x1cecff17, hex('20 14 00 03 FF EC FE 00'))
    reader.frame(0.05, 0x1cebff17, hex('01 30 31 32 33 34 35 36'))
    reader.frame(0.1, 0x1cebff17, hex('02 37 38 39 41 42 43 44'))
    reader.frame(0.15, 0x1cebff17, hex('03 45 46 47 48 49 4A FF'))
    expect(reader.messages).toMatchObject([{ group: 0xfeec, source: 0x17, destination: null }])
    expect(Buffer.from(reader.messages[0]!.bytes).toString()).toBe('0123456789ABCDEFGHIJ')
  })

  test('directed transfer: packets may come again; one that never came is a gap (from memory)', () => {
    const reader = new J1939Reader()
    reader.frame(0, 0x1cec0b17, hex('10 0A 00 02 FF CA FE 00'))
    reader.frame(0.01, 0x1cec170b, hex('11 02 01 FF FF CA FE 00'))
    reader.frame(0.02, 0x1ceb0b17, hex('02 08 09 0A FF FF FF FF'))
    reader.frame(0.03, 0x1ceb0b17, hex('01 01 02 03 04 05 06 07'))
    expect(reader.messages).toMatchObject([
      { group: 0xfeca, destination: 0x0b, bytes: hex('01 02 03 04 05 06 07 08 09 0A') },
    ])
    reader.frame(1, 0x1cecff17, hex('20 14 00 03 FF EC FE 00'))
    reader.frame(1.1, 0x1cebff17, hex('03 45 46 47 48 49 4A FF'))
    expect(reader.gaps[0]!.what).toBe('group 65260: 1 of 3 packets: packets are missing')
  })
})

describe('SAE J1979 current data (checked values S5, S6)', () => {
  test.each([
    ['41 0C 1A F8', 'motor_speed', 1726],
    ['41 05 7B', 'coolant_out', 83],
    ['41 05 00', 'coolant_out', -40],
    ['41 0D FF', 'speed', 255],
    ['41 0C FF FF', 'motor_speed', 16383.75],
    ['41 5B CC', 'soc', 80],
  ])('%s', (bytes, channel, value) => {
    const [found] = currentData(hex(bytes))
    expect(found!.parameter.channel).toBe(channel)
    expect(found!.value).toBeCloseTo(value, 9)
  })
  test('0x80 of parameter 0x5B is 50.196 %', () => {
    expect(currentData(hex('41 5B 80'))[0]!.value).toBeCloseTo(50.196, 3)
  })
  test('several in one answer, as in 41 0C 0C 38 0D 20 05 7B', () => {
    expect(currentData(hex('41 0C 0C 38 0D 20 05 7B')).map(({ value }) => value)).toEqual([782, 32, 83])
  })
})

describe('trouble codes, data by identifier, refusals (ISO 15031-6, ISO 14229-1, from memory)', () => {
  test.each([
    [0x01, 0x43, 'P0143'],
    [0x0a, 0x80, 'P0A80'],
    [0x41, 0x23, 'C0123'],
    [0x92, 0x34, 'B1234'],
    [0xc1, 0x00, 'U0100'],
  ])('%i %i', (high, low, name) => {
    expect(troubleCode(high, low)).toBe(name)
  })
  test('messages in words; identifiers stay raw', () => {
    expect(diagnosticText(hex('43 02 01 43 C1 00')).codes).toEqual(['P0143', 'U0100'])
    expect(diagnosticText(hex('59 02 FF 0A 80 00 2F')).codes).toEqual(['P0A80-00 (status 0x2F)'])
    expect(diagnosticText(hex('62 F1 90 41 42')).what).toBe('data by identifier: identifier 0xF190: 41 42')
    expect(diagnosticText(hex('7F 22 31')).what).toBe('data by identifier refused: out of range')
    expect(diagnosticText(hex('22 F1 90')).kind).toBe('request')
  })
})

test('CANopen: heartbeats, emergencies, network management (CiA 301, from memory)', () => {
  expect(canopenText(0x705, hex('05'))).toEqual({ node: 5, what: 'heartbeat: operational' })
  expect(canopenText(0x705, hex('7F'))).toEqual({ node: 5, what: 'heartbeat: pre-operational' })
  expect(canopenText(0x085, hex('10 42 09 00 00 00 00 00'))).toEqual({
    node: 5,
    what: 'emergency 0x4210: device temperature, register 0x09',
  })
  expect(canopenText(0x000, hex('01 05'))).toEqual({ node: 5, what: 'network management: start' })
  expect(canopenText(0x085, hex('00 00 00 00 00 00 00 00'))!.what).toContain('error over')
  expect(canopenText(0x185, hex('01 02'))).toBeNull()
})
