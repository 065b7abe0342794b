import { expect, it } from 'vitest'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

it('a log that writes a row every ten seconds is not silent between them: one charge, no stretch of nothing', () => {
  const timeS = Array.from({ length: 120 }, (_, i) => 10 * i)
  const plugged = timeS.map((t) => (t >= 100 && t < 1000 ? 1 : 0))
  const { segments } = driveFromColumns(timeS, {
    charge_plug: plugged,
    pack_current: plugged.map((on) => -12 * on),
  })
  expect(segments.map(({ type }) => type)).toEqual(['parked', 'charging', 'parked'])
  expect(segments[1]!.span_s).toEqual([100, 1000])
})
