import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openLogSource } from '../../../src/bytes/file-source.ts'
import { LogError } from '../../../src/errors.ts'
import { parseSignalTable } from '../../../src/importers/frames/signal-table.ts'
import { readLog } from '../../../src/importers/registry.ts'
import { PcapngBytes, packetOf, pcapOf, type TestFrame } from '../../helpers/capture-bytes.ts'
import { byteSignals } from '../../helpers/frame-log-from-bytes.ts'

/**
 * Damaged input gives one sentence or a review of what is sound, soon, without the memory that a length field claims.
 */
let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'fuzz-'))
  writeFileSync(
    join(folder, 'signals.json'),
    JSON.stringify({ signals: [...byteSignals(0x123, 2), ...byteSignals(0x18fef100, 2, true)] }),
  )
})
afterAll(() => rmSync(folder, { recursive: true }))

const FRAMES: TestFrame[] = Array.from({ length: 40 }, (_, i) => ({
  ns: 1_700_000_000_000_000_000n + BigInt(i) * 10_000_000n,
  identifier: i % 3 === 0 ? 0x18fef100 : 0x123,
  extended: i % 3 === 0,
  remote: i % 11 === 5,
  error: i % 13 === 6,
  data: [i, 1, 2, 3, 4, 5, 6, 7],
}))

const SOUND: readonly Buffer[] = [
  pcapOf(FRAMES),
  pcapOf(FRAMES, { little: false, nano: true }),
  FRAMES.reduce(
    (file, frame) => file.packet(0, frame.ns, packetOf(frame)),
    new PcapngBytes().interface({ resolution: 9 }),
  ).bytes(),
  FRAMES.reduce(
    (file, frame, i) =>
      i % 4 === 0 ? file.simple(packetOf(frame)) : file.packet(0, frame.ns / 1000n, packetOf(frame)),
    new PcapngBytes(false).interface({}),
  ).bytes(),
  Buffer.from(
    `Time;ID;Ext;Length;Data\n${FRAMES.map((frame, i) => `${i / 100};${frame.identifier.toString(16)};${+(frame.extended ?? false)};8;${Buffer.from(frame.data as number[]).toString('hex')}`).join('\n')}\n`,
  ),
]

/** Places at which lengths, types and magic numbers stand are hit more often than chance would. */
const damage = fc.record({
  file: fc.nat(SOUND.length - 1),
  gzip: fc.boolean(),
  cut: fc.option(fc.nat(2000), { nil: undefined }),
  hits: fc.array(
    fc.record({
      at: fc.oneof(fc.nat(80), fc.nat(2000)),
      value: fc.oneof(fc.constantFrom(0, 1, 0x7f, 0x80, 0xff), fc.nat(255)),
      run: fc.integer({ min: 1, max: 4 }),
    }),
    { maxLength: 6 },
  ),
  packedHit: fc.option(fc.nat(400), { nil: undefined }),
})

describe('damaged logs', () => {
  test('300 damaged captures and frame tables: a sentence or what is sound, never a crash, never much memory', async () => {
    const started = process.memoryUsage().arrayBuffers
    let most = 0
    await fc.assert(
      fc.asyncProperty(damage, async ({ file, gzip, cut, hits, packedHit }) => {
        let bytes = Buffer.from(SOUND[file]!)
        for (const { at, value, run } of hits)
          for (let k = 0; k < run; k++) if (at + k < bytes.length) bytes[at + k] = value
        if (cut !== undefined) bytes = bytes.subarray(0, Math.min(cut, bytes.length))
        if (gzip) {
          bytes = gzipSync(bytes)
          if (packedHit !== undefined && packedHit < bytes.length) bytes[packedHit] = bytes[packedHit]! ^ 0x55
        }
        const path = join(folder, 'log')
        writeFileSync(path, bytes)
        const begun = performance.now()
        try {
          const log = await readLog(await openLogSource(path), { signals: join(folder, 'signals.json') })
          for (const series of log.series) {
            expect(series.values.length).toBe(series.timeS.length)
            expect(series.values.length).toBeLessThanOrEqual(log.rows)
            for (let i = 1; i < series.timeS.length; i++)
              expect(series.timeS[i]! >= series.timeS[i - 1]!).toBe(true)
          }
          expect(log.bus ? log.bus.load_percent.length : 0).toBeLessThanOrEqual(7 * 86400)
        } catch (error) {
          if (!(error instanceof LogError)) throw error
          expect(error.message).toMatch(/\.$/)
          expect(error.message).not.toMatch(/\n/)
        }
        expect(performance.now() - begun).toBeLessThan(5000)
        most = Math.max(most, process.memoryUsage().arrayBuffers - started)
      }),
      { seed: 20260314, numRuns: 300 },
    )
    expect(most).toBeLessThan(200 << 20)
  })

  test('300 signal tables out of odd values: a table or a sentence that names it', () => {
    const odd = fc.oneof(
      fc.constantFrom(
        '0x123',
        'little',
        'big',
        '',
        'x',
        null,
        true,
        -1,
        0,
        7,
        8,
        63,
        64,
        511,
        1e9,
        0.5,
        Number.MAX_VALUE,
      ),
      fc.string({ maxLength: 6 }),
      fc.integer({ min: -5, max: 600 }),
    )
    const row = fc.record(
      {
        identifier: odd,
        name: odd,
        start_bit: odd,
        length: odd,
        byte_order: fc.oneof(fc.constantFrom('little', 'big'), odd),
        extended: odd,
        signed: odd,
        factor: odd,
        offset: odd,
        selector_start_bit: odd,
        selector_length: odd,
        selector_value: odd,
        invalid: fc.oneof(odd, fc.array(odd, { maxLength: 3 })),
        period_ms: odd,
      },
      { requiredKeys: ['identifier', 'name', 'start_bit', 'length', 'byte_order'] },
    )
    fc.assert(
      fc.property(fc.array(row, { maxLength: 4 }), fc.boolean(), (rows, asCsv) => {
        const keys = [...new Set(rows.flatMap((each) => Object.keys(each)))]
        const text = asCsv
          ? [
              keys.join(';'),
              ...rows.map((each) =>
                keys.map((key) => String((each as Record<string, unknown>)[key] ?? '')).join(';'),
              ),
            ].join('\n')
          : JSON.stringify({ signals: rows })
        try {
          for (const signal of parseSignalTable('table', Buffer.from(text)).signals) {
            expect(Number.isFinite(signal.factor) && Number.isFinite(signal.offset)).toBe(true)
            expect(signal.length).toBeLessThanOrEqual(64)
          }
        } catch (error) {
          if (!(error instanceof LogError)) throw error
          expect(error.message).toMatch(/^table: .*\.$/s)
        }
      }),
      { seed: 7, numRuns: 300 },
    )
  })
})
