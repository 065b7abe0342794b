import { expect, test } from 'vitest'
import { levelSwitch } from '../../../src/drive/switches/switch-levels.ts'

const read = (id: string, labels: string[]): number[] => {
  const channel = {
    ...{
      id,
      unit: '',
      timeS: Float64Array.from(labels, (_, i) => i),
      values: Float64Array.from(labels, (_, i) => i),
    },
    ...{ fresh: null, labels, file: 'f', from: id, step: 0, polarity: null },
  }
  return [...levelSwitch(channel).channel.values]
}

// workshop words, common practice, no source
test.each([
  ['key_on', ['OFF', 'RUN'], [0, 1]],
  ['contactor_positive', ['APERTO', 'CHIUSO'], [0, 1]],
  ['contactor_positive', ['rozepnuto', 'sepnuto'], [0, 1]],
  ['charge_plug', ['empty', 'plugged'], [0, 1]],
  ['inertia_closed', ['OK', 'TRIPPED'], [1, 0]],
  ['brake_switch', ['nein', 'ja'], [0, 1]],
  // what is neither on nor off stays no value
  ['contactor_positive', ['closed', 'unknown'], [1, Number.NaN]],
  ['contactor_positive', ['open', 'closed', 'moving'], [0, 1, Number.NaN]],
])('%s: %j', (id, labels, values) => {
  expect(read(id, labels)).toEqual(values)
})
