import { describe, expect, it } from 'vitest'
import type { Channel } from '../../shared/drive.ts'
import { codeWord, isState, stateLane } from '../../src/report/state-lanes.ts'
import { svgLanes } from '../../src/report/svg-lanes.ts'
import { driveFromText } from '../helpers/drive-from-text.ts'

const drive = driveFromText(`
  time_s  bms_state  bms_faults  contactor_positive  selector  pack_voltage
  0       1          0           0                   0         400
  5       1          4           1                   1         390
  10      9          4           1                   1         390
  20      9          4           0                   0         400`)
const of = (id: string): Channel => [...drive.channels.values()].find((each) => each.id === id)!
const words = { states: { bms: { '1': 'idle', '9': 'fault' } }, fault_bits: { bms: { '2': 'cell low' } } }

describe('switches and states on paper', () => {
  it('are words, never a line on an axis of numbers', () => {
    expect(isState(of('pack_voltage'))).toBe(false)
    for (const id of ['bms_state', 'bms_faults', 'contactor_positive', 'selector'])
      expect(isState(of(id)), id).toBe(true)
    expect(codeWord(of('bms_state'), 9, words)).toBe('fault')
    expect(codeWord(of('bms_state'), 7, {})).toBe('state 7')
    expect(codeWord(of('bms_faults'), 4, words)).toBe('cell low')
    expect(codeWord(of('bms_faults'), 0, words)).toBe('none')
    expect(codeWord(of('contactor_positive'), 1, {})).toBe('on')
    expect(codeWord(of('selector'), -1, {})).toBe('reverse')
  })

  it('hold each value until the next sample, within the span', () => {
    const lane = stateLane(of('bms_state'), [2, 15], words)!
    expect(lane.spans).toEqual([
      { from: 2, to: 10, word: 'idle', on: true },
      { from: 10, to: 15, word: 'fault', on: true },
    ])
    const svg = svgLanes([lane], [2, 15], [8, 12], [{ at: 5, word: '0:05' }])
    for (const word of ['idle', 'fault', '0:05', 'Battery unit state']) expect(svg).toContain(word)
    expect(svgLanes([], [0, 1], null, [])).toBe('')
  })
})
