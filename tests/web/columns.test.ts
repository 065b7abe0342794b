import { describe, expect, it } from 'vitest'
import { bandsOf, sharedColumns } from '../../web/chart/columns.ts'
import { changeText, valueText } from '../../web/chart/value-text.ts'

const line = (timeS: number[], values: number[]) => ({
  timeS: Float64Array.from(timeS),
  values: Float32Array.from(values),
  thinned: false,
})

describe('lines on one shared time', () => {
  it('leave a line untouched where only another has a point, and break it at NaN', () => {
    expect(sharedColumns([line([0, 10, 20], [1, Number.NaN, 3]), line([5, 10], [7, 8])])).toEqual([
      [0, 5, 10, 20],
      [1, undefined, null, 3],
      [undefined, 7, 8, undefined],
    ])
  })

  it('share their times where they already do', () => {
    expect(sharedColumns([line([0, 1], [1, 2]), line([0, 1], [3, Number.NaN])])).toEqual([
      [0, 1],
      [1, 2],
      [3, null],
    ])
  })

  it('keep two points of one moment (a break right after a sample)', () => {
    expect(sharedColumns([line([0, 1, 1, 9], [1, 2, Number.NaN, 3]), line([9], [4])])).toEqual([
      [0, 1, 1, 9],
      [1, 2, null, 3],
      [undefined, undefined, undefined, 4],
    ])
  })

  it('stay empty where nothing has come yet', () => {
    expect(sharedColumns([undefined, undefined])).toEqual([[], [], []])
  })

  it('become bands of one value, through moments without a sample and not through a break', () => {
    //  x     0  1  2          3     4  5     6
    //  line  0  1  (nothing)  1     –  (no)  0
    expect(bandsOf([0, 1, 2, 3, 4, 5, 6, 7], [0, 1, undefined, 1, null, undefined, 0, 0])).toEqual([
      { fromS: 0, toS: 1, value: 0 },
      { fromS: 1, toS: 4, value: 1 },
      { fromS: 6, toS: 7, value: 0 },
    ])
  })
})

describe('a value at the cursor', () => {
  const speed = {
    id: 'speed',
    label: 'Speed',
    unit: 'km/h',
    kind: 'number',
    file: '',
    from: '',
    samples: 3,
    labels: null,
  } as const
  const points = {
    timeS: Float64Array.of(0, 1, 2),
    values: Float32Array.of(10, 20, Number.NaN),
    thinned: false,
  }

  it('is the last one read, said as about where samples were thinned out, and none before the first or in a break', () => {
    const at = (atS: number | null) => valueText(speed, points, atS)
    expect([at(-1), at(0), at(0.9), at(1.5), at(2.5), at(null)]).toEqual(['', '10', '10', '20', '', ''])
    expect(valueText(speed, { ...points, thinned: true }, 1)).toBe('≈ 20')
    expect(changeText(speed, points, 0, 1)).toBe('+10')
    expect(changeText(speed, points, 1, 0)).toBe('−10')
  })

  it('is a word for a switch and a state', () => {
    const on = { ...speed, kind: 'switch', unit: '' } as const
    const one = { ...points, values: Float32Array.of(0, 1, 1) }
    expect([0, 1].map((atS) => valueText(on, one, atS))).toEqual(['off', 'on'])
    expect([0, 1].map((atS) => valueText({ ...speed, kind: 'code', labels: ['off'] }, one, atS))).toEqual([
      'off',
      '1',
    ])
  })
})
