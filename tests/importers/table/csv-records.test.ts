import fc from 'fast-check'
import { expect, test } from 'vitest'
import { recordsByParser, recordsOf } from '../../../src/importers/table/csv-records.ts'

const line = fc
  .array(fc.constantFrom('', '1', '-2.5', '3,4', 'a b', ' x', '\t', 'é', '"q', '"', '\r'), { maxLength: 6 })
  .map((fields) => fields.join(';'))
const text = fc
  .tuple(fc.array(line, { minLength: 1, maxLength: 12 }), fc.constantFrom('\n', '\r\n'), fc.boolean())
  .map(([lines, ending, closed]) => lines.join(ending) + (closed ? ending : ''))

test('plain splitting gives what csv-parse gives', () => {
  fc.assert(
    fc.property(text, fc.constantFrom(';', ',', '\t'), (written, delimiter) => {
      expect(recordsOf(written, delimiter, '\n')).toEqual(recordsByParser(written, delimiter, '\n'))
    }),
    { numRuns: 4000, seed: 20_261_125 },
  )
})

test('lines that a bare carriage return ends are split too', () => {
  const written = 'a;b\r1;2\r\r3;4'
  expect(recordsOf(written, ';', '\r')).toEqual(recordsByParser(written, ';', '\r'))
})
