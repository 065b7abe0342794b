import { expect, test } from 'vitest'
import { LogError } from '../../../src/errors.ts'
import { isLongCsv, readLongCsv } from '../../../src/importers/table/long-csv.ts'
import { readWideCsv } from '../../../src/importers/table/wide-csv.ts'
import { logFromBytes } from '../../helpers/log-from-bytes.ts'

const rows = (count: number, row: (i: number) => string): string =>
  `${Array.from({ length: count }, (_, i) => row(i)).join('\n')}\n`
const GOOD = [
  `Time [s],Pack voltage [V],Cell 1 [V],Cell 2 [V],State\n${rows(60, (i) => `${(i / 10).toFixed(1)},${370 - i / 10},3.9${i % 10},${i % 3 ? '' : '3.9'},READY`)}`,
  `Zeit;U;I\n${rows(60, (i) => `14.03.2026 09:12:${String(i).padStart(2, '0')};37${i % 10},5;1,${i}`)}`,
  `t,name,value,unit\n${rows(90, (i) => `${i / 10},${['a', 'b', 'c'][i % 3]},${i},V`)}`,
]
const BITS = ['"', '""', ',', ';', '\n', '\r', '\t', 'e9', '-', '.', ',,,,', '9999999999999999999', 'NaN']

/** Deterministic whole numbers below n (xorshift, Marsaglia 2003). */
function numbers(seed: number): (n: number) => number {
  let x = seed
  return (n) => {
    x ^= x << 13
    x >>>= 0
    x ^= x >>> 17
    x ^= x << 5
    x >>>= 0
    return x % n
  }
}

function spoil(good: Buffer, next: (n: number) => number): Buffer {
  let bytes = Buffer.from(good)
  for (let k = 1 + next(12); k > 0; k--) {
    const at = next(bytes.length)
    const how = next(5)
    if (how === 0) bytes[at] = next(256)
    else if (how === 1) bytes = Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + next(30))])
    else if (how === 2)
      bytes = Buffer.concat([
        bytes.subarray(0, at),
        Buffer.from(BITS[next(BITS.length)]!),
        bytes.subarray(at),
      ])
    else if (how === 3) bytes = Buffer.concat([bytes, bytes.subarray(at, at + 40)])
    else bytes = bytes.subarray(0, Math.max(1, at))
    if (bytes.length === 0) bytes = Buffer.from('x')
  }
  return bytes
}

test('spoiled bytes give a log with time that never falls, or one sentence; nothing else', async () => {
  const next = numbers(12345)
  let [read, refused] = [0, 0]
  for (let k = 0; k < 300; k++) {
    const bytes = new Uint8Array(spoil(Buffer.from(GOOD[k % 3]!), next))
    const log = (): ReturnType<typeof logFromBytes> => logFromBytes('spoiled.csv', bytes, 1 + next(300))
    try {
      const { series } = isLongCsv(bytes) ? await readLongCsv(log()) : await readWideCsv(log())
      read++
      for (const { timeS, values } of series) {
        expect(timeS.length).toBe(values.length)
        for (let i = 1; i < timeS.length; i++)
          if (!(timeS[i]! >= timeS[i - 1]!)) expect.fail(`time falls at ${i}`)
      }
    } catch (error) {
      expect(error).toBeInstanceOf(LogError)
      refused++
    }
  }
  expect(read).toBeGreaterThan(100)
  expect(refused).toBeGreaterThan(30)
})
