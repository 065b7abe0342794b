import { expect, it } from 'vitest'
import { markPlaces } from '../../web/parts/mark-places.ts'

/** WCAG 2.2, 2.5.8: targets of 24 px that do not cover each other. */
const apart = (places: readonly (number | undefined)[]) => {
  const shown = places.filter((at) => at !== undefined).sort((a, b) => a - b)
  return shown.every((at, i) => i === 0 || at - shown[i - 1]! >= 24)
}

it('leaves marks at their moments where there is room', () => {
  expect(markPlaces([0.25, 0.5], 400)).toEqual([100, 200])
})

it('keeps marks of one moment apart and within the strip, at both ends', () => {
  for (const shares of [
    [0, 0, 0.01],
    [1, 1, 0.99],
    [0.5, 0.5, 0.5, 0.51],
  ]) {
    const places = markPlaces(shares, 362)
    expect(apart(places)).toBe(true)
    for (const at of places) expect(at! >= 13 && at! <= 362 - 13).toBe(true)
  }
})

it('shows the worst, which come first, where there are more than fit', () => {
  const places = markPlaces(
    Array.from({ length: 40 }, (_, i) => i / 40),
    260,
  )
  expect(places.filter((at) => at !== undefined)).toHaveLength(10)
  expect(places.slice(0, 10).every((at) => at !== undefined)).toBe(true)
  expect(apart(places)).toBe(true)
})
