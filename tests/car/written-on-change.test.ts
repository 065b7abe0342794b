import { describe, expect, it } from 'vitest'
import { staleAfter, writtenOnChange } from '../../src/samples/on-one-clock.ts'

/** A brake pressed for 2 s in every 40 s, read every 20 ms, of which `keep` are written. */
const brake = (keep: (bar: number, last: number, sinceS: number) => boolean) => {
  const timeS: number[] = []
  const values: number[] = []
  for (let k = 0; k < 40_000; k++) {
    const s = k / 50
    const bar =
      Math.round(10 * Math.max(0, 20 * Math.sin((Math.PI * (s % 40)) / 2)) * (s % 40 < 2 ? 1 : 0)) / 10
    const last = values.at(-1) ?? -1
    if (!keep(bar, last, s - (timeS.at(-1) ?? -1e9))) continue
    timeS.push(s)
    values.push(bar)
  }
  return { timeS: Float64Array.from(timeS), values: Float64Array.from(values) }
}

describe('a channel written only when it changes', () => {
  it('with a dead band, with or without a sign of life every 10 min, keeps its value', () => {
    const band = brake((bar, last) => Math.abs(bar - last) >= 0.2)
    expect(writtenOnChange(band)).toBe(true)
    const alive = brake((bar, last, sinceS) => Math.abs(bar - last) >= 0.2 || sinceS > 600)
    expect(writtenOnChange(alive)).toBe(true)
    expect(staleAfter(alive)).toBe(Number.POSITIVE_INFINITY)
  })

  it('one that is written steadily, and one that falls silent, do not', () => {
    const steady = brake(() => true)
    expect(writtenOnChange(steady)).toBe(false)
    const silent = { timeS: steady.timeS.map((s) => (s > 300 ? s + 60 : s)), values: steady.values }
    expect(writtenOnChange(silent)).toBe(false)
    expect(staleAfter(silent)).toBe(5)
  })
})
