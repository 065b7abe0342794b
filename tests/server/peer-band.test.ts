import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { openChannels } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { peerBand } from '../../src/server/figures.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-peers-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Ten cells of 0.5 to 1.4 mΩ and an eleventh of 5 mΩ: by Ohm's law each falls by R · I, so the band is known by hand. */
const MOHM = [0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 5]
const MIDDLE = 1.0 // the median of the eleven

it('draws the band of the peers by Ohm’s law, the accused left out', async () => {
  const amperes = (i: number) => 100 * Math.sin(i / 40)
  const head = ['Time [s]', 'Pack current [A]', ...MOHM.map((_, k) => `Cell ${k + 1} voltage [V]`)]
  const rows = Array.from({ length: 3000 }, (_, i) =>
    [i / 10, amperes(i).toFixed(4), ...MOHM.map((r) => (3.7 - (r / 1000) * amperes(i)).toFixed(6))].join(','),
  )
  const path = join(folder, 'drive.csv')
  writeFileSync(path, [head.join(','), ...rows].join('\n'))
  const dataDir = join(folder, 'data')
  const id = await importAndStore({ dataDir, logs: [{ path, name: 'drive.csv' }], vehicle: {} }, () => {})
  const reader = openChannels(openPlace(dataDir), id)
  try {
    const band = peerBand(reader, 'pack_current', 'cell_voltage.11', [0, 300])
    expect(band.peers).toBe(10)
    expect(band.x.length).toBeGreaterThan(10)
    band.x.forEach((x, i) => {
      // A bin is 14 A wide: the edge may lie half a bin to either side, 0.5 mΩ · 7 A.
      const ends = [-(1.4 - MIDDLE) * x, (MIDDLE - 0.5) * x].sort((a, b) => a - b)
      expect(Math.abs(band.low[i]! * 1000 - ends[0]!)).toBeLessThan(4)
      expect(Math.abs(band.high[i]! * 1000 - ends[1]!)).toBeLessThan(4)
    })
    // The accused falls by 4 mΩ · I more than the median: far outside.
    const last = band.x.length - 1
    expect(-(5 - MIDDLE) * band.x[last]!).toBeLessThan(band.low[last]! * 1000 - 200)
  } finally {
    reader.close()
  }
})
