import { describe, expect, it } from 'vitest'
import { contactorsByWord, meaningOfWord } from '../../src/car/unit-state.ts'

// What the words of states mean: common practice, no source.
describe('the words of control units’ states', () => {
  it.each([
    ['discharging', 'drive', 'closed'],
    ['charging', 'charging', 'closed'],
    ['Precharging', 'precharge', 'precharging'],
    ['DC link discharge', 'off', null],
    ['drive disabled', 'off', null],
    ['discharge disabled', 'off', null],
    ['drive', 'drive', 'closed'],
    ['Contactors open', 'waiting', 'open'],
    ['disconnected', 'waiting', 'open'],
    ['connected', 'closed', 'closed'],
    ['precharge timed out', 'fault', null],
    ['no fault', 'waiting', null],
    ['ready', 'ready', null],
    ['blue', null, null],
  ])('battery unit: %s means %s, contactors %s', (word, meaning, contactors) => {
    expect(meaningOfWord(word, 'bms')).toBe(meaning)
    expect(contactorsByWord(word)).toBe(contactors)
  })

  it('an inverter that discharges empties the link', () => {
    expect(meaningOfWord('discharging', 'inverter')).toBe('off')
  })
})
