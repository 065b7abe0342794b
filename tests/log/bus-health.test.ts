import { describe, expect, test } from 'vitest'
import { buildDrive } from '../../src/drive/build-drive.ts'
import { busHealth } from '../../src/log/questions/bus-health.ts'
import { logGaps } from '../../src/log/questions/log-gaps.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { pcapOf, type TestFrame } from '../helpers/capture-bytes.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { frameLogFromBytes } from '../helpers/frame-log-from-bytes.ts'

const SIGNALS = [
  { identifier: 0x100, node: 'car unit', name: 'Key on', channel: 'key_on' },
  { identifier: 0x100, node: 'car unit', name: 'Plug', channel: 'charge_plug', start_bit: 8 },
  { identifier: 0x100, node: 'car unit', name: 'Speed', channel: 'speed', unit: 'km/h', start_bit: 16 },
  { identifier: 0x200, node: 'inverter', name: 'Torque', channel: 'torque', unit: 'Nm' },
  {
    identifier: 0x300,
    node: 'battery unit',
    name: 'Pack voltage',
    channel: 'pack_voltage',
    unit: 'V',
    factor: 2,
  },
].map((signal) => ({ start_bit: 0, length: 8, byte_order: 'little', ...signal }))

interface Bus {
  readonly until?: number
  readonly key?: (s: number) => boolean
  readonly plug?: (s: number) => boolean
  readonly car?: (s: number, i: number) => boolean
  readonly inverter?: (s: number, i: number) => boolean
  readonly battery?: (s: number, i: number) => boolean
  readonly extra?: readonly TestFrame[]
}

const always = (): boolean => true

/** Three control units at 10, 10 and 100 ms; each sends where its function says so. */
async function judge(bus: Bus, signals: readonly object[] = SIGNALS) {
  const frames: TestFrame[] = []
  const base = 1_700_000_000_000_000_000n
  for (let i = 0; i < (bus.until ?? 40) * 100; i++) {
    const s = i / 100
    const ns = base + BigInt(i) * 10_000_000n
    const speed = (bus.key ?? always)(s) ? 30 + (i % 20) : 0
    if ((bus.car ?? always)(s, i))
      frames.push({
        ns,
        identifier: 0x100,
        data: [+(bus.key ?? always)(s), +(bus.plug?.(s) ?? false), speed],
      })
    if ((bus.inverter ?? always)(s, i))
      frames.push({ ns: ns + 300_000n, identifier: 0x200, data: [40 + (i % 9)] })
    if (i % 10 === 0 && (bus.battery ?? always)(s, i))
      frames.push({ ns: ns + 600_000n, identifier: 0x300, data: [170 + (i % 3)] })
  }
  frames.push(...(bus.extra ?? []).map((frame) => ({ ...frame, ns: base + frame.ns })))
  frames.sort((a, b) => Number(a.ns - b.ns))
  const facts = gatherFacts(buildDrive([await frameLogFromBytes(pcapOf(frames), signals)]), {})
  return busHealth(facts)
}

describe('silent nodes', () => {
  test('a whole bus gives nothing', async () => {
    const { findings, questions } = await judge({})
    expect(findings).toEqual([])
    expect(questions.map((each) => each.state)).toEqual(['nothing-found', 'nothing-found'])
  })

  test('an inverter that falls silent for 2 s while others speak is attention, with its time', async () => {
    const { findings } = await judge({ inverter: (s) => s < 20 || s >= 22 })
    expect(findings).toHaveLength(1)
    expect(findings[0]).toMatchObject({
      kind: 'node-silent',
      severity: 'attention',
      subject: { type: 'node', name: 'inverter' },
      unit: 's',
      limit: 0.5,
    })
    expect(findings[0]!.value).toBeCloseTo(2.01, 2)
    expect(findings[0]!.onset_s).toBeCloseTo(19.99, 2)
  })

  // Source: time-out of a safety signal 500 ms, Formula Student rules T11.9.4: 500 ms allowed, 501 ms not.
  test.each([
    [0.48, 0],
    [0.6, 1],
  ])('a silence of %f s: %i findings', async (length, count) => {
    const { findings } = await judge({ inverter: (s) => s < 20 || s >= 20 + length })
    expect(findings.filter((each) => each.kind === 'node-silent')).toHaveLength(count)
  })

  test('the unit that sends the key’s state falls silent itself: the key counts as it was', async () => {
    const { findings } = await judge({ car: (s) => s < 20 || s >= 23 })
    expect(findings.map((each) => [each.severity, each.subject.name])).toEqual([['attention', 'car unit']])
  })

  test('a node that never comes back is silent to the end', async () => {
    const { findings } = await judge({ battery: (s) => s < 25 })
    expect(findings[0]).toMatchObject({ severity: 'attention', subject: { name: 'battery unit' } })
    expect(findings[0]!.value).toBeCloseTo(15.1, 0)
  })

  test('a slow sender needs ten of its periods: 0.9 s of 100 ms frames is nothing, 1.5 s is', async () => {
    const short = await judge({ battery: (s) => s < 20 || s >= 20.9 })
    expect(short.findings.map((each) => each.kind)).toEqual(['frames-lost'])
    expect((await judge({ battery: (s) => s < 20 || s >= 21.5 })).findings).toHaveLength(1)
  })

  test('the whole bus resting is no silent node', async () => {
    const awake = (s: number): boolean => s < 20 || s >= 26
    expect((await judge({ car: awake, inverter: awake, battery: awake })).findings).toEqual([])
  })

  test('the key off, a control unit that starts slowly and one that sleeps first are no silent nodes', async () => {
    const { findings } = await judge({
      key: (s) => s >= 5 && s < 30,
      inverter: (s) => s >= 7.5 && s < 31,
    })
    expect(findings).toEqual([])
  })

  test('a charger that goes quiet as its plug is pulled is no silent node', async () => {
    const { findings } = await judge({ plug: (s) => s < 20, inverter: (s) => s < 20.5 })
    expect(findings).toEqual([])
  })

  test('senders without a name that fall silent together are one finding', async () => {
    const nameless = SIGNALS.map((signal) => ({ ...signal, node: undefined }))
    const gone = (s: number): boolean => s < 20 || s >= 23
    const { findings } = await judge({ inverter: gone, battery: gone }, nameless)
    expect(findings).toHaveLength(1)
    expect(findings[0]!.subject.name).toBe('sender of 0x200, 0x300')
  })

  test('lost frames are a note', async () => {
    const { findings } = await judge({ inverter: (_, i) => i % 50 !== 7 })
    expect(findings).toHaveLength(1)
    expect(findings[0]).toMatchObject({
      kind: 'frames-lost',
      severity: 'note',
      subject: { name: 'inverter' },
    })
    expect(findings[0]!.value).toBeCloseTo(2, 1)
  })

  test('error frames are counted in a note', async () => {
    const error = { identifier: 0x80, error: true, data: [0, 0, 0, 0, 0, 0, 0, 0] }
    const { findings } = await judge({
      extra: [
        { ns: 5_000_000n, ...error },
        { ns: 6_000_000_000n, ...error },
      ],
    })
    expect(findings).toHaveLength(1)
    expect(findings[0]).toMatchObject({ kind: 'bus-errors', severity: 'note', value: 2 })
  })

  test('without a frame log the questions say what to record', () => {
    const { questions, findings } = busHealth(gatherFacts(driveFromColumns([0, 1], { speed: [0, 0] }), {}))
    expect(findings).toEqual([])
    expect(questions.every((each) => each.state === 'not-assessed' && each.to_assess !== null)).toBe(true)
  })
})

describe('gaps of a log', () => {
  const gaps = (skip: (s: number) => boolean, speed: (s: number) => number) => {
    const timeS = Array.from({ length: 1200 }, (_, i) => i / 10).filter((s) => !skip(s))
    return logGaps(gatherFacts(driveFromColumns(timeS, { speed: timeS.map(speed) }), {}))
  }

  test('none in a whole log', () => {
    const { findings, questions } = gaps(
      () => false,
      () => 30,
    )
    expect(findings).toEqual([])
    expect(questions[0]!.state).toBe('nothing-found')
  })

  test('12 s missing while the car moves is attention', () => {
    const { findings } = gaps(
      (s) => s > 40 && s < 52,
      () => 30,
    )
    expect(findings[0]).toMatchObject({ kind: 'log-gap', severity: 'attention', subject: { type: 'file' } })
    expect(findings[0]!.value).toBeCloseTo(12, 1)
  })

  test('the same while parked, or 2 s while moving, is a note', () => {
    const parked = gaps(
      (s) => s > 40 && s < 52,
      () => 0,
    )
    expect(parked.findings.map((each) => each.severity)).toEqual(['note'])
    const short = gaps(
      (s) => s > 40 && s < 42,
      () => 30,
    )
    expect(short.findings.map((each) => each.severity)).toEqual(['note'])
  })
})
