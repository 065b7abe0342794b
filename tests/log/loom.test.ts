import { describe, expect, test } from 'vitest'
import { buildDrive } from '../../src/drive/build-drive.ts'
import { busHealth } from '../../src/log/questions/bus-health.ts'
import { loom } from '../../src/log/questions/loom.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { pcapOf, type TestFrame } from '../helpers/capture-bytes.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { frameLogFromBytes } from '../helpers/frame-log-from-bytes.ts'

const SIGNALS = [
  { identifier: 0x100, node: 'car unit', name: 'Key on', channel: 'key_on' },
  { identifier: 0x100, node: 'car unit', name: 'Speed', channel: 'speed', unit: 'km/h', start_bit: 8 },
  { identifier: 0x200, node: 'inverter', name: 'Torque', channel: 'torque', unit: 'Nm' },
  { identifier: 0x200, node: 'inverter', name: 'Inverter message counter', start_bit: 8, length: 4 },
].map((signal) => ({ start_bit: 0, length: 8, byte_order: 'little', ...signal }))

/** Two minutes of two control units at 20 ms; the inverter's frames get lost where `lost` says so, sent where `sent` does. */
async function bus(lost: (s: number, i: number) => boolean, sent: (s: number) => boolean = () => true) {
  const frames: TestFrame[] = []
  const base = 1_700_000_000_000_000_000n
  let counter = 0
  for (let i = 0; i < 6000; i++) {
    const s = i / 50
    const ns = base + BigInt(i) * 20_000_000n
    frames.push({ ns, identifier: 0x100, data: [1, Math.round(60 + 50 * Math.sin(s / 9))] })
    if (!sent(s)) continue
    counter = (counter + 1) % 16
    if (!lost(s, i)) frames.push({ ns: ns + 300_000n, identifier: 0x200, data: [40 + (i % 9), counter] })
  }
  return gatherFacts(buildDrive([await frameLogFromBytes(pcapOf(frames), SIGNALS)]), {})
}

describe('the loom', () => {
  test('losses that go with the speed are said so, those that do not are not; a counter tells that they were sent', async () => {
    const fast = await bus((s, i) => i % 50 === 0 && Math.sin(s / 9) > 0.6)
    const [company, counters] = loom(fast).questions
    expect(company!.why).toMatch(/Inverter: .* lost\. \d+ of \d+ came while it went faster than/)
    expect(busHealth(fast).findings[0]!.reason).toContain('while it went faster than')
    expect(counters!.why).toMatch(/Inverter message counter: \d\d skipped/)
    const even = await bus((_, i) => i % 60 === 0)
    expect(loom(even).questions[0]!.why).not.toContain('faster')
  })

  test('a counter that skips often is a note of kind frames-lost', async () => {
    const { findings } = loom(await bus((_, i) => i % 40 === 0))
    expect(findings).toMatchObject([{ kind: 'frames-lost', severity: 'note' }])
    expect(findings[0]!.value).toBeCloseTo(2.5, 1)
    // frames that the sender never sent are no skip
    expect(
      loom(
        await bus(
          () => false,
          (s) => s < 60 || s > 61,
        ),
      ).findings,
    ).toEqual([])
  })

  test('says who woke last', async () => {
    const late = await bus(
      () => false,
      (s) => s > 3,
    )
    expect(loom(late).questions[2]!.why).toContain('inverter spoke last, 3')
    expect(loom(await bus(() => false)).questions[2]!.why).toContain('All senders were awake')
    const none = loom(gatherFacts(driveFromColumns([0, 1], { speed: [0, 0] }), {}))
    expect(none.questions.every(({ state }) => state === 'not-assessed')).toBe(true)
  })
})
