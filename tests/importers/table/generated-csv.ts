import fc from 'fast-check'

/** A small CSV in some dialect, with plain numbers and everything else that loggers and spreadsheets write. */
export interface GeneratedCsv {
  readonly text: string
  readonly chunkBytes: number
}

const digits = (most: number): fc.Arbitrary<string> =>
  fc.string({ unit: fc.constantFrom(...'0123456789'), minLength: 1, maxLength: most })

/** Decimal numbers as text with `.`; some longer than a double can hold. */
const number = fc.oneof(
  {
    weight: 6,
    arbitrary: fc
      .tuple(fc.constantFrom('', '', '-'), digits(5), digits(4))
      .map(([sign, a, b]) => `${sign}${a}.${b}`),
  },
  { weight: 3, arbitrary: fc.tuple(fc.constantFrom('', '-'), digits(6)).map(([sign, a]) => `${sign}${a}`) },
  {
    weight: 1,
    arbitrary: fc
      .tuple(fc.constantFrom('', '-', '+'), digits(12), digits(12))
      .map(([sign, a, b]) => `${sign}${a}.${b}`),
  },
  {
    weight: 1,
    arbitrary: fc
      .tuple(fc.constantFrom('', '-'), digits(3), fc.integer({ min: -30, max: 30 }))
      .map(([sign, a, e]) => `${sign}${a}e${e}`),
  },
  // The scanner's short way for voltages to the millivolt, and what nearly is one.
  {
    weight: 3,
    arbitrary: fc
      .string({ unit: fc.constantFrom(...'0123456789'), minLength: 4, maxLength: 4 })
      .map((text) => `${text[0]}.${text.slice(1)}`),
  },
  { weight: 1, arbitrary: fc.constantFrom('3.7x1', '-.123', '3.12', '4.05e', '3..12', '.1234', 'a.123') },
  { weight: 1, arbitrary: fc.constantFrom('.5', '5.', '-.25', '-0', '0.0', '-0.00', '007', '0x1F') },
)
const oddity = fc.constantFrom(
  '',
  '',
  '',
  'NaN',
  'n/a',
  '-',
  'READY',
  'on',
  '  ',
  ' 3.5',
  '3.5 ',
  '#####',
  '3-Apr',
  '1 234.5',
  '12 V',
  'a"b',
  '#DIV/0!',
  'é',
)

export const generatedCsv: fc.Arbitrary<GeneratedCsv> = fc
  .record({
    delimiter: fc.constantFrom(',', ';', '\t'),
    comma: fc.boolean(),
    lineEnd: fc.constantFrom('\n', '\r\n'),
    width: fc.integer({ min: 2, max: 6 }),
    rows: fc.integer({ min: 3, max: 14 }),
    finalEnd: fc.boolean(),
    chunkBytes: fc.integer({ min: 1, max: 200 }),
    sparse: fc.boolean(),
    seeds: fc.infiniteStream(fc.tuple(number, oddity, fc.integer({ min: 0, max: 99 }))),
  })
  .map(({ delimiter, comma, lineEnd, width, rows, finalEnd, chunkBytes, sparse, seeds }) => {
    const decimal = comma && delimiter !== ',' ? ',' : '.'
    const next = (): string => {
      const [plain, odd, chance] = seeds.next().value as [string, string, number]
      if (sparse && chance < 45) return ''
      const written = plain.replace('.', decimal)
      if (chance < 50) return ''
      if (chance < 54) return quoted(odd, delimiter)
      if (chance < 58) return `"${written}"`
      if (chance < 59) return `"two${lineEnd}lines"`
      if (chance < 60) return `"say ""${plain}"""`
      return written
    }
    const lines = [
      ['Time [s]', ...Array.from({ length: width }, (_, c) => `Channel ${String.fromCharCode(65 + c)}`)].join(
        delimiter,
      ),
    ]
    // Three plain rows first, so that the head tells the dialect.
    for (let row = 0; row < rows + 3; row++) {
      const time = (row * 0.1).toFixed(1).replace('.', decimal)
      const fields = Array.from({ length: width }, () => (row < 3 ? `1${decimal}5` : next()))
      const [, , chance] = seeds.next().value as [string, string, number]
      if (row >= 3 && chance === 7) fields.pop()
      if (row >= 3 && chance === 8) fields.push('')
      if (row >= 3 && chance === 9) lines.push('')
      lines.push([chance === 10 && row >= 3 ? 'later' : time, ...fields].join(delimiter))
    }
    return { text: lines.join(lineEnd) + (finalEnd ? lineEnd : ''), chunkBytes }
  })

function quoted(text: string, delimiter: string): string {
  return text.includes(delimiter) ? `"${text}"` : text
}
