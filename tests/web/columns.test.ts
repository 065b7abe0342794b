import { describe, expect, it } from 'vitest'
import { laneColumns, sharedColumns } from '../../web/chart/columns.ts'

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

  it('put switches into lanes', () => {
    expect(
      laneColumns(
        [
          [0, 1],
          [0, 1],
          [1, null],
        ],
        (at) => 1 - at,
        0.5,
      ),
    ).toEqual([
      [0, 1],
      [1, 1.5],
      [0.5, null],
    ])
  })
})
