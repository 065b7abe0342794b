import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { RawLog } from '../../shared/raw-log.ts'
import { LogError } from '../../src/errors.ts'
import { readWideCsv } from '../../src/importers/table/wide-csv.ts'
import { logFromBytes } from '../helpers/log-from-bytes.ts'
import { generatedCsv } from './table/generated-csv.ts'

/** Enough to notice a slip; `READER_RUNS=10000` runs the whole study (10 000 files, seeded, all alike). */
const RUNS = Number(process.env.READER_RUNS ?? 800)

let refused = 0

async function outcome(text: string, chunkBytes: number, reader: 'scanner' | 'csv-parse'): Promise<unknown> {
  try {
    return bits(await readWideCsv(logFromBytes('generated.csv', text, chunkBytes), { reader }))
  } catch (error) {
    // Both readers throwing alike is no agreement: only a refusal in words counts.
    if (!(error instanceof LogError)) throw error
    refused++
    return error.message
  }
}

/** Every double as its bits, so that −0 and 0 differ and NaN equals NaN. */
function bits(log: RawLog): unknown {
  const hex = (values: Float64Array): string => Buffer.from(values.slice().buffer).toString('hex')
  return {
    rows: log.rows,
    skipped: log.skipped,
    series: log.series.map((each) => ({
      name: each.name,
      unit: each.unit,
      labels: each.labels,
      timeS: hex(each.timeS),
      values: hex(each.values),
    })),
    sharing: log.series.map((each) => log.series.findIndex((other) => other.timeS === each.timeS)),
  }
}

test('the byte scanner and csv-parse give the same columns, bit for bit', async () => {
  await fc.assert(
    fc.asyncProperty(generatedCsv, async ({ text, chunkBytes }) => {
      const fast = await outcome(text, chunkBytes, 'scanner')
      const slow = await outcome(text, 1 << 20, 'csv-parse')
      expect(fast).toEqual(slow)
    }),
    { numRuns: RUNS, seed: 20_260_314 },
  )
  expect(refused).toBeLessThan(0.1 * RUNS)
}, 300_000)
