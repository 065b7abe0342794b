import { describe, expect, it } from 'vitest'
import type { Finding, Question } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { boxLinks } from '../../src/pack/questions/box-links.ts'
import { joints } from '../../src/pack/questions/joints.ts'
import { weakCells } from '../../src/pack/questions/weak-cells.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { copperMohm } from '../simulator/second/build.ts'
import { type SecondSimulated, simulateSecond } from '../simulator/second/simulate-second.ts'

/** Two boxes of two modules of 14 cells; a cable of 1.6 m × 50 mm² joins them (IEC 60028: 0.55 mΩ), bars of 0.35 m the rest. */
function drive(faults: readonly Fault[]): SecondSimulated {
  return simulateSecond({
    seed: 77,
    build: { cells: { perModule: [14, 14, 14, 14] } as never, boxOfModule: ['a', 'a', 'b', 'b'] },
    road: { durationS: 240 },
    faults,
  })
}

function look(
  made: SecondSimulated,
  vehicle: Vehicle,
): { all: Finding[]; loud: Finding[]; questions: Question[] } {
  const facts = gatherFacts(made.drive, vehicle)
  const answers = [joints(facts), weakCells(facts), boxLinks(facts)]
  const all = answers.flatMap((each) => each.findings)
  return {
    all,
    loud: all.filter((each) => each.severity !== 'note'),
    questions: answers.flatMap((each) => each.questions),
  }
}

const what = (found: readonly Finding[]): string[] =>
  found.map((each) => `${each.kind} ${each.subject.index ?? ''}`)

describe('a cable between boxes', () => {
  const healthy = drive([])
  const cable = copperMohm(1.6, 50)

  it('several times a module link, is accused by nobody and given with its heat', () => {
    const seen = look(healthy, healthy.vehicle)
    expect(what(seen.all)).toEqual([])
    const [question] = seen.questions.filter((each) => each.question.includes('between boxes'))
    expect(question!.state).toBe('nothing-found')
    expect(question!.why).toMatch(/the cable between boxes a and b: .* mΩ.* W at this drive/)
    const [, ohm, half] = /: ([\d.]+) ± ([\d.]+) mΩ/.exec(question!.why)!.map(Number)
    expect(Math.abs(ohm! - healthy.truth.cells[27]!.readMohm)).toBeLessThan(half!)
    expect(question!.smallest_seen).toBeGreaterThan(3 * cable)
  })

  it('without the vehicle file is a note that names both causes, and says what would settle it', () => {
    const seen = look(healthy, {})
    expect(what(seen.loud)).toEqual([])
    expect(what(seen.all)).toEqual(['joint-resistance-high 28'])
    expect(seen.all[0]!.rivals[0]!.kind).toBe('long-busbar')
    expect(seen.all[0]!.reason).toMatch(/box_of_module/)
  })

  it('with a bad end is found against copper of its stated length', () => {
    const bad = drive([{ kind: 'joint', cell: 28, ohm: 0.0016 }])
    const seen = look(bad, bad.vehicle)
    expect(what(seen.loud)).toEqual(['box-link-resistance-high '])
    const [found] = seen.loud
    expect(found!.subject.between_cells).toEqual([28, 29])
    expect(found!.low).toBeLessThan(bad.truth.cells[27]!.readMohm)
    expect(found!.high).toBeGreaterThan(bad.truth.cells[27]!.readMohm)
    expect(found!.limit).toBeCloseTo(3 * copperMohm(1.6, 50), 2)
    // stated longer, it is under three times its copper: what copper and two good ends leave over still speaks
    for (const [metres, severity] of [
      [2.2, 'attention'],
      [3, 'note'],
    ] as const) {
      const pack = bad.vehicle.pack!
      const links = pack.links!.map((each) => (each.after_cell === 28 ? { ...each, length_m: metres } : each))
      const { all } = look(bad, { ...bad.vehicle, pack: { ...pack, links } })
      expect(all.map((each) => `${each.severity} ${each.kind}`)).toEqual([
        `${severity} box-link-resistance-high`,
      ])
    }
    // nobody named the boxes: the cable's part of the reading is in the interval
    const [bare] = look(bad, {}).loud
    expect(bare!.subject.index).toBe(28)
    expect(bare!.low).toBeLessThan(1.6)
    expect(bare!.high).toBeGreaterThan(1.6)
    expect(bare!.reason).toMatch(/could be the cable’s/)
  })

  it('of unstated length is shown as a note only', () => {
    const { links: _, ...pack } = healthy.vehicle.pack!
    const seen = look(healthy, { ...healthy.vehicle, pack })
    expect(seen.all.map((each) => `${each.severity} ${each.kind}`)).toEqual(['note box-link-resistance-high'])
    expect(seen.all[0]!.reason).toMatch(/length and section are not stated/)
  })
})

describe('a cell of charge transfer', () => {
  it('weak in a module is told from a joint by an extra that falls as the current rises', () => {
    const made = drive([{ kind: 'weak-cell', cell: 34, ratio: 1.8, capacity: 0.97 }])
    for (const vehicle of [made.vehicle, {}]) {
      const seen = look(made, vehicle)
      expect(what(seen.loud)).toEqual(['cell-weak 34'])
      expect(seen.loud[0]!.reason).toMatch(/falls as the current rises/)
      const truth = made.truth.cells[33]!.ohmicMohm / made.truth.medianOhmicMohm
      expect(Math.abs(seen.loud[0]!.value! - truth)).toBeLessThan(0.1 * truth)
    }
  })

  it('weak beside the cable between boxes is found there as well', () => {
    const made = drive([{ kind: 'weak-cell', cell: 28, ratio: 1.8, capacity: 0.97 }])
    expect(what(look(made, made.vehicle).loud)).toEqual(['cell-weak 28'])
  })

  it('beside a bad joint stays healthy: metal has no bend', () => {
    const made = drive([{ kind: 'joint', cell: 34, ohm: 0.0006 }])
    for (const vehicle of [made.vehicle, {}])
      expect(what(look(made, vehicle).loud)).toEqual(['joint-resistance-high 34'])
  })
})
