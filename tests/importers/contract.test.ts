import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parquetWriteBuffer } from 'hyparquet-writer'
import { afterAll, describe, expect, test } from 'vitest'
import type { RawLog } from '../../shared/raw-log.ts'
import { LogError } from '../../src/errors.ts'
import { IMPORTERS, readLog } from '../../src/importers/registry.ts'
import { PcapngBytes, packetOf, pcapOf } from '../helpers/capture-bytes.ts'
import { logFromBytes } from '../helpers/log-from-bytes.ts'

/**
 * One body of checks on every importer: whatever it is given, it refuses in words or gives a log whose times rise and
 * whose values are numbers. An importer without a sample here fails the first test.
 */
const FRAMES = Array.from({ length: 40 }, (_, i) => ({
  ns: 1_773_500_000_000_000_000n + BigInt(i) * 12_500_000n,
  identifier: 0x120 + (i % 2),
  data: [i, 255 - i, 16, 171],
}))
const lines = (row: (i: number) => string): string =>
  Array.from({ length: 40 }, (_, i) => `${row(i)}\n`).join('')
const s = (i: number): string => (i * 0.0125).toFixed(4)
const hex = (data: readonly number[]): string => data.map((b) => b.toString(16).padStart(2, '0')).join(' ')

interface Sample {
  /** The first bytes without a record. */
  readonly head: Uint8Array
  readonly bytes: Uint8Array
  /** Where each record ends. */
  readonly ends: readonly number[]
  /** Rows of the whole; where left out, a row a record. */
  readonly rows?: number
  /** A kind that is known and not read. */
  readonly refused?: true
}

function text(header: string, row: (i: number) => string): Sample {
  const bytes = Buffer.from(header + lines(row))
  const ends = [...bytes.keys()].filter((at) => bytes[at] === 10 && at >= header.length).map((at) => at + 1)
  return { head: Buffer.from(header), bytes, ends }
}

function pcap(): Sample {
  const upTo = (n: number): Buffer => pcapOf(FRAMES.slice(0, n))
  return { head: upTo(0), bytes: upTo(FRAMES.length), ends: FRAMES.map((_, i) => upTo(i + 1).length) }
}

function pcapng(): Sample {
  const upTo = (n: number): Buffer => {
    const file = new PcapngBytes().interface({ resolution: 9 })
    for (const frame of FRAMES.slice(0, n)) file.packet(0, frame.ns, packetOf(frame))
    return file.bytes()
  }
  return { head: upTo(0), bytes: upTo(FRAMES.length), ends: FRAMES.map((_, i) => upTo(i + 1).length) }
}

/** Read from its end: cut anywhere, it is no Parquet file any more. */
function parquet(): Sample {
  const column = (name: string, of: (i: number) => number) => ({
    name,
    data: Float64Array.from(FRAMES, (_, i) => of(i)),
    type: 'DOUBLE' as const,
  })
  const bytes = new Uint8Array(
    parquetWriteBuffer({
      columnData: [
        column('Time [s]', (i) => i * 0.0125),
        column('Pack voltage [V]', (i) => 350 - i / 10),
        column('Speed [km/h]', (i) => i / 2),
      ],
    }),
  )
  const ends = Array.from({ length: 40 }, (_, i) => Math.round(((i + 1) / 40) * bytes.length))
  return { head: bytes.subarray(0, 4), bytes, ends, rows: 40 }
}

const SAMPLES: Readonly<Record<string, Sample>> = {
  pcap: pcap(),
  pcapng: pcapng(),
  Parquet: parquet(),
  'frame CSV': text(
    'time,id,dlc,data\n',
    (i) => `${s(i)},0x${FRAMES[i]!.identifier.toString(16)},4,${hex(FRAMES[i]!.data)}`,
  ),
  'other file': { ...text('MDF     3.30    ', (i) => `block ${i}`), refused: true },
  'odd table': text(
    '   Time [s]   Pack voltage [V]   Speed [km/h]\n',
    (i) => `     ${s(i)}           ${350 - i / 10}           ${i}.5`,
  ),
  'long CSV': text(
    'time,channel,value,unit\n',
    (i) => `${s(i - (i % 2))},${i % 2 ? 'Speed,20.5,km/h' : `Pack voltage,${350 - i / 10},V`}`,
  ),
  'wide CSV': text('Time [s],Pack voltage [V],Speed [km/h]\n', (i) => `${s(i)},${350 - i / 10},${i / 2}`),
}

const SIGNALS = [0x120, 0x121].map((identifier) => ({
  identifier,
  name: `Pack voltage of ${identifier}`,
  start_bit: 0,
  length: 8,
  byte_order: 'little',
  signed: false,
  factor: 1.5,
  offset: 0,
  unit: 'V',
}))

const folder = mkdtempSync(join(tmpdir(), 'aftermile-importers-'))
const signals = join(folder, 'signals.json')
writeFileSync(signals, JSON.stringify({ signals: SIGNALS }))
afterAll(() => rmSync(folder, { recursive: true }))

/** The log, or the sentence in which it was refused; anything else that is thrown fails the test. */
async function outcome(bytes: Uint8Array): Promise<RawLog | string> {
  try {
    return await readLog(logFromBytes('drive.log', bytes), { signals })
  } catch (error) {
    if (!(error instanceof LogError)) throw error
    return error.message
  }
}

/** What no log may hold: times that fall or are not finite, arrays of two lengths, values without bound. */
function wrongs(log: RawLog): string[] {
  return log.series.flatMap(({ name, timeS, values, fresh, labels }) => {
    const found: string[] = []
    if (timeS.length !== values.length || (fresh && fresh.length !== values.length))
      found.push(`${name}: arrays of two lengths`)
    for (let i = 0; i < timeS.length; i++) {
      if (!Number.isFinite(timeS[i]!) || (i > 0 && timeS[i]! < timeS[i - 1]!))
        found.push(`${name}: time ${timeS[i]}`)
      const value = values[i]!
      if (!Number.isNaN(value) && !Number.isFinite(value)) found.push(`${name}: ${value}`)
      if (labels && !Number.isNaN(value) && labels[value] === undefined) found.push(`${name}: label ${value}`)
    }
    return found
  })
}

const readersOf = (head: Uint8Array): string[] =>
  IMPORTERS.filter((importer) => importer.sniff(head)).map(({ layout }) => layout)

test('every importer has a sample here', () => {
  expect(IMPORTERS.map(({ layout }) => layout).filter((layout) => !SAMPLES[layout])).toEqual([])
})

for (const { layout } of IMPORTERS.filter((each) => SAMPLES[each.layout]))
  describe(layout, () => {
    const { head, bytes, ends, refused, rows: whole = ends.length } = SAMPLES[layout]!

    test('its own sniff says yes, and no more particular one does', () => {
      expect(readersOf(bytes)[0]).toBe(layout)
    })

    test('it sniffs no other kind’s file', () => {
      // the wide table is what is left where no other kind is
      const others = Object.keys(SAMPLES).filter((other) => other !== layout && layout !== 'wide CSV')
      expect(others.filter((other) => readersOf(SAMPLES[other]!.bytes).includes(layout))).toEqual([])
    })

    test.each([
      ['nothing', Buffer.alloc(0)],
      ['one byte', bytes.subarray(0, 1)],
      ['the header alone', head],
    ])('%s: refused in one sentence that names the file, or a log without samples', async (_, given) => {
      const got = await outcome(given)
      if (typeof got === 'string') expect(got).toMatch(/^drive\.log: .+\.$/s)
      else expect(got.series.reduce((sum, { values }) => sum + values.length, 0)).toBe(0)
    })

    test('whole: times rise, values are plausible, every record is read', async () => {
      const got = await outcome(bytes)
      if (refused) return expect(got).toMatch(/^drive\.log: /)
      if (typeof got === 'string') throw new Error(got)
      expect(wrongs(got)).toEqual([])
      expect(got.rows).toBe(whole)
      expect(got.layout).toContain(layout === 'odd table' ? 'wide CSV' : layout)
      const volts = got.series.filter(({ name }) => name.startsWith('Pack voltage'))
      expect(volts.length).toBeGreaterThan(0)
      const [timeS, values] = [volts[0]!.timeS, volts[0]!.values]
      expect(timeS.at(-1)! - timeS[0]!).toBeGreaterThan(0.4)
      expect(timeS.at(-1)! - timeS[0]!).toBeLessThan(0.5)
      expect(Math.max(...values)).toBeLessThan(1000)
      expect(Math.min(...values)).toBeGreaterThanOrEqual(0)
    })

    test('cut at every record and in the middle of each: read up to there, nothing invented', async () => {
      let before = 0
      for (const [n, end] of ends.entries())
        for (const at of [Math.max(head.length + 1, end - 3), end]) {
          const got = await outcome(bytes.subarray(0, at))
          if (typeof got === 'string') {
            expect(got).toMatch(/^drive\.log: /)
            // what was once enough to read stays enough
            expect(before, `cut at byte ${at}`).toBe(0)
            continue
          }
          expect(wrongs(got), `cut at byte ${at}`).toEqual([])
          expect(got.rows, `cut at byte ${at}`).toBeLessThanOrEqual(whole === ends.length ? n + 1 : whole)
          expect(got.rows, `cut at byte ${at}`).toBeGreaterThanOrEqual(before)
          before = got.rows
        }
      expect(before > 0).toBe(!refused)
    })
  })
