import { expect, test } from 'vitest'
import { dropThermalJumps } from '../../../src/drive/cleaning/thermal-jumps.ts'

const drop = (values: readonly number[], periodS = 1): { left: number[]; told: string[] } => {
  const array = Float64Array.from(values)
  const told = dropThermalJumps(
    'module_temperature.9',
    Float64Array.from(values, (_, i) => i * periodS),
    array,
  )
  return { left: [...array], told: told.map(({ what, count, first }) => `${what}: ${count}, ${first}`) }
}
const { NaN: none } = Number

test('a shorted sensor: from 17 to 125 °C at once, and flat there, is no heat', () => {
  expect(drop([17, 17, 125, 125, 124.5, 125])).toEqual({
    left: [17, 17, none, none, none, none],
    told: [
      'module_temperature.9: readings after a jump that no temperature makes: 4, at 2.000 s, 125 °C after 17 °C',
    ],
  })
})

test('a loose one comes back, more than once', () => {
  expect(drop([17, 90, 90, 17.5, 18, 90, 18]).left).toEqual([17, none, none, 17.5, 18, none, 18])
})

test('what goes on rising after the jump may be heat and stays', () => {
  const fire = [17, 60, 75, 90, 130]
  expect(drop(fire).left).toEqual(fire)
})

test('what a slow log or a gap lets rise stays', () => {
  expect(drop([17, 60, 60, 60], 300).left).toEqual([17, 60, 60, 60])
  expect(drop([17, none, 18, 19]).left).toEqual([17, none, 18, 19])
})
