import { describe, expect, test } from 'vitest'
import { BOUNDS } from '../../shared/bounds.ts'
import { FrameGroup } from '../../src/importers/frames/frame-groups.ts'
import type { Signal } from '../../src/importers/frames/signal.ts'
import { fullOf } from '../../src/importers/table/read-table.ts'

const signal: Signal = {
  row: 1,
  key: 0x123,
  node: null,
  name: 'volts',
  channel: null,
  startBit: 0,
  length: 8,
  byteOrder: 'little',
  signed: false,
  factor: 1,
  offset: 0,
  unit: 'V',
  selector: null,
  invalid: [],
  periodS: null,
}

describe('a log that brings more than the table of bounds has room for', () => {
  const store = (rows: number, samples: number) => ({ rows, samples: () => samples })

  test('a table is read up to the bound', () => {
    expect(fullOf(store(BOUNDS.rows - 1, 5))).toBeNull()
    expect(fullOf(store(BOUNDS.rows, 5))).toBe('20 million rows')
    expect(fullOf(store(1000, BOUNDS.values))).toBe('500 million values')
  })

  test('frames of one signal past the bound are left out, counted, and take no room', () => {
    const group = new FrameGroup([signal])
    group.frames = BOUNDS.rows + 7
    expect(group.bound()).toBe(7)
    expect(group.bound()).toBe(0)
    expect(group.frames).toBe(BOUNDS.rows)
  })
})
