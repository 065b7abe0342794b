import { expect, test } from 'vitest'
import { cellSum } from '../../src/car/cell-sum.ts'
import { cellCurrent, packCurrent } from '../../src/car/pack-current.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** Twelve cells as one string, or as two of six side by side, by our own writer. */
function pack(packV: number, linkV: number) {
  const timeS = Array.from({ length: 300 }, (_, i) => i / 10)
  const cells = Object.fromEntries(
    Array.from({ length: 12 }, (_, k) => [`cell_voltage.${k + 1}`, timeS.map(() => 3.6)]),
  )
  const drive = driveFromColumns(timeS, {
    ...cells,
    pack_voltage: timeS.map(() => packV),
    link_voltage: timeS.map(() => linkV),
    pack_current: timeS.map((s) => 40 + 20 * Math.sin(s)),
  })
  const facts = gatherFacts(drive, {})
  return {
    volts: facts.once(cellSum)!.volts[50]!,
    share: facts.once(cellCurrent)!.amperes[50]! / facts.once(packCurrent)!.amperes[50]!,
  }
}

test('strings side by side: the pack has the voltage of one, each cell its share of the current', () => {
  const { volts, share } = pack(21.6, 21.5)
  expect(volts).toBeCloseTo(21.6, 6)
  expect(share).toBeCloseTo(0.5, 9)
})
test.each([
  ['one string', 43.2, 43.1],
  ['a voltage of half a pack, which the link is not', 21.6, 43.1],
])('%s stays whole', (_, packV, linkV) => {
  const { volts, share } = pack(packV, linkV)
  expect(volts).toBeCloseTo(43.2, 6)
  expect(share).toBe(1)
})
