import { describe, expect, it } from 'vitest'
import { NO_KINETICS } from '../../src/pack/models/cell-kinetics.ts'
import type { CellAgainstPeers } from '../../src/pack/models/cell-peers.ts'
import { PLAIN_LINK_OHM } from '../../src/pack/models/plain-link.ts'
import { type Explanation, explain, type Usual } from '../../src/pack/models/resistance-evidence.ts'

const MILLI = 1e-3
const usual: Usual = {
  // a plain reading: a cell of 1 mΩ and its busbar
  ohmicOhm: 1 * MILLI + PLAIN_LINK_OHM,
  slowOhm: 0.8 * MILLI,
  fallVPerAh: 0.012,
  shiftVPerAh: 0,
  kinetics: NO_KINETICS,
  parallel: null,
  flat: false,
}

/** Figures in mΩ, mΩ and mV/A·h, their errors, and how slow part and fall go together; the bend and its error. */
function cell(
  values: readonly [number, number, number],
  errors: readonly [number, number, number],
  together = 0,
  degrees = 30,
  bend: readonly [number, number] = [0, 0.02],
): CellAgainstPeers {
  const all = [...values, bend[0]]
  const wide = [...errors, bend[1]]
  const part = (at: 0 | 1 | 2 | 3) => ({
    value: all[at]! * MILLI,
    fitError: wide[at]! * MILLI,
    error: wide[at]! * MILLI,
  })
  const covariance = Float64Array.from({ length: 16 }, (_, j) => {
    const [row, column] = [j >> 2, j & 3]
    const share = row === column ? 1 : row + column === 3 && row * column === 2 ? together : 0
    return share * wide[row]! * wide[column]! * MILLI ** 2
  })
  return {
    estimate: { degrees },
    ohmic: part(0),
    slow: part(1),
    fall: part(2),
    bend: part(3),
    covariance,
    longLink: false,
  } as unknown as CellAgainstPeers
}

const of = (all: readonly Explanation[], cause: string): Explanation =>
  all.find((each) => each.cause === cause)!
const ratio = (all: readonly Explanation[], a: string, b: string): number =>
  Math.exp(of(all, a).logEvidence - of(all, b).logEvidence)

describe('evidence for a cause', () => {
  it('a slow part that is off by a share of the extra is the fit’s, however sure it reads: no weak cell for it', () => {
    const read = cell([0.81, -0.059, 0.26], [0.021, 0.0086, 0.0746], -0.87, 20)
    const all = explain(read, null, { ...usual, ohmicOhm: 1.51 * MILLI, slowOhm: 0.36 * MILLI, flat: true })
    expect(all[0]!.cause).toBe('joint')
    expect(all[0]!.jointOhm / MILLI).toBeCloseTo(0.81, 1)
  })

  it('a good drive tells a joint from a weak cell, either way', () => {
    const errors = [0.02, 0.05, 0.3] as const
    const joint = explain(cell([0.6, 0.01, 0.1], errors), null, usual)
    expect(joint[0]!.cause).toBe('joint')
    expect(ratio(joint, 'joint', 'weak')).toBeGreaterThan(100)
    expect(joint[0]!.jointOhm / MILLI).toBeCloseTo(0.6, 2)
    expect(joint[0]!.jointError / MILLI).toBeCloseTo(0.02, 2)
    const weak = explain(cell([0.6, 0.48, 0.5], errors), null, usual)
    expect(weak[0]!.cause).toBe('weak')
    expect(ratio(weak, 'weak', 'joint')).toBeGreaterThan(100)
    expect(weak[0]!.ratio).toBeCloseTo(1.6, 2)
  })

  it('a slow part that seems grown and a fall that seems lessened are one error where they go together', () => {
    const figures = [1.05, 0.4, -2.2] as const
    const errors = [0.035, 0.218, 1.27] as const
    const apart = explain(cell(figures, errors), null, usual)
    const together = explain(cell(figures, errors, -0.95), null, usual)
    expect(ratio(apart, 'joint', 'weak')).toBeLessThan(ratio(together, 'joint', 'weak'))
    expect(together[0]!.cause).toBe('joint')
  })

  it('a drive that says nothing of the slow part leaves joint and weak cell about even', () => {
    for (const ohmic of [0.4, 0.8]) {
      const all = explain(cell([ohmic, 0.2, 0], [0.03, 2, 10], -0.9, 12), null, usual)
      expect(ratio(all, 'joint', 'weak')).toBeGreaterThan(0.2)
      expect(ratio(all, 'joint', 'weak')).toBeLessThan(5)
    }
  })

  it('joint and weak cell at one place: told where the slow part speaks, with both figures; else a near rival', () => {
    const clear = explain(cell([1.7, 0.32, 0.5], [0.02, 0.03, 0.2]), null, usual)
    expect(clear[0]!.cause).toBe('joint-and-weak')
    expect(clear[0]!.jointOhm / MILLI).toBeGreaterThan(1)
    expect(clear[0]!.jointOhm / MILLI).toBeLessThan(1.5)
    expect(clear[0]!.ratio).toBeGreaterThan(1.25)
    expect(clear[0]!.ratio).toBeLessThan(1.7)
    const unclear = explain(cell([1.1, 0.5, 0.5], [0.02, 0.06, 0.3]), null, usual)
    expect(unclear[0]!.cause).toBe('weak')
    expect(ratio(unclear, 'weak', 'joint-and-weak')).toBeLessThan(100)
  })

  it('two parallel cells, one open: all figures twice (p / (p − m) by Kirchhoff)', () => {
    const all = explain(cell([1, 0.8, 12], [0.02, 0.05, 0.4]), null, { ...usual, parallel: 2 })
    expect(all[0]!.cause).toBe('open')
    expect(all[0]!.ratio).toBe(2)
  })

  it('a neighbour better by the same amount makes it a misplaced tap, one that is merely good does not', () => {
    const errors = [0.02, 0.05, 0.3] as const
    const worse = cell([0.3, 0, 0], errors)
    const tap = explain(worse, cell([-0.3, 0, 0], errors), usual)
    expect(tap[0]!.cause).toBe('tap')
    expect(tap[0]!.jointOhm / MILLI).toBeCloseTo(0.3, 2)
    expect(explain(worse, cell([-0.12, 0, 0], errors), usual)[0]!.cause).toBe('joint')
  })
})
