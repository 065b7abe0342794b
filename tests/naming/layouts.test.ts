import { describe, expect, test } from 'vitest'
import { nameSeries } from '../../src/naming/name-series.ts'
import { LANGUAGE_LAYOUTS } from './language-layouts.ts'
import { LAYOUTS, type Layout, seriesOf } from './layouts.ts'
import { MORE_LAYOUTS } from './more-layouts.ts'
import { WORLD_LAYOUTS } from './world-layouts.ts'

const ALL: readonly Layout[] = [...LAYOUTS, ...MORE_LAYOUTS, ...WORLD_LAYOUTS, ...LANGUAGE_LAYOUTS]

/** Right, left without a name, and wrong, over the columns of a layout. */
function score(layout: Layout): {
  right: number
  missed: string[]
  wrong: string[]
  all: number
} {
  const { series, truth } = seriesOf(layout)
  const missed: string[] = []
  const wrong: string[] = []
  let right = 0
  for (const { series: column, id, sureness } of nameSeries(series)) {
    const want = truth.get(column.name)!
    const got = sureness === 0 ? '-' : id
    if (got === want) right++
    else if (got === '-') missed.push(`${column.name} (${want})`)
    else wrong.push(`${column.name}: ${got} for ${want}`)
  }
  return { right, missed, wrong, all: series.length }
}

describe('invented layouts', () => {
  for (const layout of ALL)
    test(layout.name, () => {
      const { right, missed, wrong, all } = score(layout)
      if (process.env.SHOW) console.log(`${layout.name}: ${right}/${all}`, { missed, wrong })
      expect(wrong).toEqual([])
      expect(missed.length / all).toBeLessThan(0.1)
    })

  test('over all layouts at least 97 % of the columns are right and none is wrong', () => {
    const scores = ALL.map(score)
    const all = scores.reduce((sum, each) => sum + each.all, 0)
    const right = scores.reduce((sum, each) => sum + each.right, 0)
    expect(right / all).toBeGreaterThan(0.97)
  })
})
