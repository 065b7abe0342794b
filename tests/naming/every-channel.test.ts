import { expect, test } from 'vitest'
import { CATALOGUE, channelLabel } from '../../shared/channels.ts'
import type { RawSeries } from '../../shared/raw-log.ts'
import { nameSeries } from '../../src/naming/name-series.ts'
import { nameWords } from '../../src/naming/name-words.ts'
import { VOCABULARY } from '../../src/naming/vocabulary.ts'

/** What such a channel reads, roughly. */
const usual = (id: string, unit: string): number =>
  unit === 'W' ? 2000 : id.startsWith('pedal_supply') ? 5 : 20

/** A column called as the program itself calls the channel, with values that it believes. */
function column(id: string, unit: string, [low, high]: readonly [number, number], kind: string): RawSeries {
  const values = Float64Array.from({ length: 200 }, (_, i) =>
    kind === 'number'
      ? Math.max(low, Math.min(high, usual(id, unit) * (1 + 0.1 * Math.sin(i / 9))))
      : i % 40 < 20
        ? 0
        : 1,
  )
  return {
    name: `${channelLabel(id)}${unit ? ` [${unit}]` : ''}`,
    unit: unit || null,
    channel: null,
    timeS: Float64Array.from({ length: 200 }, (_, i) => i / 10),
    values,
    fresh: null,
    labels: null,
    node: null,
  }
}

test('every channel of the catalogue is known by its own label: its naming rule is there and its words can match', () => {
  const wrong = CATALOGUE.flatMap(({ id, unit, range, kind, numbered }) => {
    const full = numbered ? `${id}.1` : id
    const series = numbered
      ? [column(full, unit, range, kind), column(`${id}.2`, unit, range, kind)]
      : [column(full, unit, range, kind)]
    const [named] = nameSeries(series)
    return named?.id === full
      ? []
      : [`"${series[0]!.name}" is read as ${named?.id ?? 'nothing'}, not ${full}`]
  })
  expect(wrong).toEqual([])
})

test('no spelling of the vocabulary is cut or turned into another before it is looked up', () => {
  const lost = [...VOCABULARY.meanings.keys()].filter((word) => !nameWords(word, null).words.includes(word))
  expect(lost).toEqual([])
})
