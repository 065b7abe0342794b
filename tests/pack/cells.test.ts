import { describe, expect, it } from 'vitest'
import type { Finding, Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import type { Answer } from '../../src/facts/answer.ts'
import { balance } from '../../src/pack/questions/balance.ts'
import { cellReadings } from '../../src/pack/questions/cell-readings.ts'
import { cells } from '../../src/pack/questions/cells.ts'
import { joints } from '../../src/pack/questions/joints.ts'
import { senseLeads } from '../../src/pack/questions/sense-leads.ts'
import { weakCells } from '../../src/pack/questions/weak-cells.ts'
import { gatherFacts, runAll } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import type { Fault } from '../simulator/faults.ts'
import { type SimulateOptions, simulate } from '../simulator/simulate.ts'

const ANALYSES = [joints, weakCells, senseLeads, balance, cellReadings, cells].map((run) => ({
  name: run.name,
  run,
}))

interface Seen {
  readonly findings: readonly Finding[]
  readonly loud: readonly Finding[]
  readonly questions: Review['questions']
  readonly cells: Review['cells']
}

function look(drive: ReturnType<typeof driveFromColumns>, vehicle: Vehicle): Seen {
  const answers: Answer[] = runAll(gatherFacts(drive, vehicle), ANALYSES)
  const findings = answers.flatMap((answer) => answer.findings)
  return {
    findings,
    loud: findings.filter((each) => each.severity !== 'note'),
    questions: answers.flatMap((answer) => answer.questions),
    cells: answers.flatMap((answer) => answer.sections?.cells ?? []),
  }
}

const made = new Map<string, ReturnType<typeof simulate>>()

function drive(faults: readonly Fault[], more: Partial<SimulateOptions> = {}, bare = false): Seen {
  const key = JSON.stringify([faults, more])
  const known =
    made.get(key) ?? simulate({ seed: 12, route: { kind: 'mixed', durationS: 240 }, faults, ...more })
  made.set(key, known)
  return look(known.drive, bare ? {} : known.vehicle)
}

const names = (seen: Seen): string[] => seen.loud.map((each) => `${each.kind} ${each.subject.index}`)
const question = (seen: Seen, words: string): Review['questions'][number] =>
  seen.questions.find((each) => each.question.includes(words))!

describe('a joint', () => {
  const fault: Fault = { kind: 'joint', cell: 41, ohm: 0.0005 }
  const seen = drive([fault])

  it('is found, placed by the tap convention of the vehicle file, with the cause\u2019s interval', () => {
    expect(names(seen)).toEqual(['joint-resistance-high 41'])
    const [found] = seen.loud
    expect(found!.subject).toEqual({ type: 'joint', index: 41, between_cells: [41, 42] })
    expect(found!.low).toBeLessThan(0.5)
    expect(found!.high).toBeGreaterThan(0.5)
    expect(found!.plus_minus).toBeGreaterThan(0.03)
    expect(found!.plus_minus).toBeLessThan(0.12)
    expect(found!.limit).toBe(0.15)
    expect(found!.unit).toBe('mΩ')
  })

  it('says what heat it makes, what speaks against a weak cell, and that a micro-ohm meter decides', () => {
    const [found] = seen.loud
    expect(found!.reason).toMatch(/W of heat/)
    expect(found!.reason).toMatch(/0\.005 to 0\.015 mΩ/)
    const weak = found!.rivals.find((each) => each.kind === 'cell-weak')!
    expect(weak.likelihood_ratio).toBeGreaterThan(100)
    expect(weak.against).toMatch(/slower part is as in its peers/)
    expect(weak.decided_by).toMatch(/micro-ohm meter/)
    expect(found!.cautions.join(' ')).toMatch(/Modules stay live/)
    expect(found!.next_step).not.toMatch(/re-torque|tighten/i)
  })

  it('is found without a vehicle file too, both candidates named', () => {
    const bare = drive([fault], {}, true)
    expect(names(bare)).toEqual(['joint-resistance-high 41'])
    expect(bare.loud[0]!.subject.between_cells).toBeUndefined()
    expect(bare.loud[0]!.headline).toMatch(/40 and 41, or between cells 41 and 42/)
  })

  it('past the whole stop limit is a stop', () => {
    expect(drive([{ kind: 'joint', cell: 41, ohm: 0.0014 }]).loud[0]!.severity).toBe('stop')
  })

  it('that comes and goes between the halves is said to be intermittent', () => {
    const seenHalf = drive([{ kind: 'joint', cell: 41, ohm: 0.0008, fromS: 150 }])
    expect(seenHalf.loud[0]!.subject.index).toBe(41)
    expect(seenHalf.loud[0]!.reason).toMatch(/Intermittent/)
  })

  it('that comes and goes every few seconds is found with the figure it has while it is there', () => {
    const seenBursts = drive([{ kind: 'joint', cell: 41, ohm: 0.0009, onS: 8, offS: 20 }])
    expect(names(seenBursts)).toEqual(['joint-resistance-high 41'])
    expect(seenBursts.loud[0]!.value).toBeCloseTo(0.9, 1)
    expect(seenBursts.loud[0]!.reason).toMatch(/Intermittent: it is there in about \d+ % of the loaded time/)
  })

  it('of two modules without a vehicle file: the one long link is a note that names its rival', () => {
    const car = { pack: { cellsPerModule: [12, 12], longLinkMohm: 0.25 } }
    const seenLink = drive([], { car }, true)
    expect(names(seenLink)).toEqual([])
    expect(seenLink.findings[0]!.rivals[0]!.kind).toBe('long-busbar')
  })

  it('among the long links between modules stands out from them; the others are design', () => {
    const car = { pack: { longLinkMohm: 0.2 } }
    expect(names(drive([], { car }))).toEqual([])
    expect(names(drive([], { car }, true))).toEqual([])
    // cell 24 ends a module and is read with its long link
    const one = drive([{ kind: 'joint', cell: 24, ohm: 0.0006 }], { car })
    expect(names(one)).toEqual(['joint-resistance-high 24'])
    expect(one.loud[0]!.value).toBeGreaterThan(0.5)
    expect(one.loud[0]!.value).toBeLessThan(0.7)
  })
})

describe('other causes', () => {
  it('a weak cell: ohmic and slow part together', () => {
    const seen = drive([{ kind: 'weak-cell', cell: 66, ratio: 1.6, capacity: 0.96 }])
    expect(names(seen)).toEqual(['cell-weak 66'])
    expect(seen.loud[0]!.value).toBeGreaterThan(1.48)
    expect(seen.loud[0]!.value).toBeLessThan(1.72)
    expect(
      seen.loud[0]!.rivals.find((each) => each.kind === 'joint-resistance-high')!.likelihood_ratio,
    ).toBeGreaterThan(10)
  })

  it('one of two parallel cells open', () => {
    const seen = drive([{ kind: 'parallel-open', cell: 20, missing: 1 }], {
      route: { kind: 'hard', durationS: 500 },
    })
    expect(names(seen)).toEqual(['parallel-cell-open 20'])
    expect(seen.loud[0]!.value).toBe(1)
  })

  it('a sense lead: one up, its neighbour down; the lower cell\u2019s offset keeps its sign', () => {
    for (const volt of [0.018, -0.015]) {
      const seen = drive([{ kind: 'sense-lead', cell: 17, volt }])
      expect(names(seen)).toEqual(['sense-lead-offset 17'])
      expect(Math.abs(seen.loud[0]!.value! - volt * 1e3)).toBeLessThan(2)
      expect(seen.loud[0]!.low! < volt * 1e3 && volt * 1e3 < seen.loud[0]!.high!).toBe(true)
    }
  })

  it('a sense tap beyond a busbar: one better, its neighbour worse', () => {
    const seen = drive([{ kind: 'tap-misplaced', cell: 30, ohm: 0.0003 }])
    expect(names(seen)).toEqual(['sense-tap-misplaced 30'])
    expect(seen.loud[0]!.value).toBeCloseTo(0.3, 1)
  })

  it('an imbalance at rest, turned into charge, capacity and time to balance', () => {
    const seen = drive([{ kind: 'imbalance', cell: 8, soc: -0.025 }], { car: { pack: { balanceA: 0.1 } } })
    expect(names(seen)).toEqual(['cell-imbalance 8'])
    expect(seen.loud[0]!.value).toBeLessThan(-15)
    expect(seen.loud[0]!.reason).toMatch(/% of charge less/)
    expect(seen.loud[0]!.reason).toMatch(/Ah/)
    expect(seen.loud[0]!.reason).toMatch(/ h of bleeding/)
    expect(seen.loud[0]!.cautions.join(' ')).toMatch(/not to be charged/)
  })

  it('two faults on neighbours are both named', () => {
    const seen = drive([
      { kind: 'joint', cell: 50, ohm: 0.0006 },
      { kind: 'weak-cell', cell: 51, ratio: 1.7, capacity: 0.96 },
    ])
    expect(names(seen).sort()).toEqual(['cell-weak 51', 'joint-resistance-high 50'])
  })

  it('a frozen and an impossible reading', () => {
    const frozen = drive([{ kind: 'cell-frozen', cell: 33, fromS: 100 }])
    expect(names(frozen)).toEqual(['cell-reading-frozen 33'])
    expect(frozen.loud[0]!.value).toBeGreaterThan(60)
    const invalid = drive([{ kind: 'cell-invalid', cell: 33, fromS: 100, toS: 160, value: 0 }])
    expect(names(invalid)).toEqual(['cell-reading-invalid 33'])
    expect(invalid.loud[0]!.value).toBeGreaterThan(50)
    expect(invalid.loud[0]!.value).toBeLessThan(70)
  })
})

describe('healthy packs', () => {
  it.each([
    { what: 'usual', more: {} },
    { what: 'slow and coarse', more: { style: { cellHz: 2, currentHz: 10, cellStepV: 0.01, scanS: 0.4 } } },
    { what: 'LFP', more: { car: { pack: { chemistry: 'lfp' as const } } } },
    { what: 'cold', more: { car: { heat: { startC: 2, ambientC: -5 } } } },
  ])('$what: nothing above note, and how small a fault would have shown', ({ more }) => {
    for (const bare of [false, true]) {
      const seen = drive([], more, bare)
      expect(names(seen)).toEqual([])
      const asked = question(seen, 'joint')
      expect(asked.state).toBe('nothing-found')
      expect(asked.smallest_seen).toBeGreaterThan(0.15)
      expect(asked.smallest_seen).toBeLessThan(0.5)
      expect(asked.chance).toBe(0.9)
    }
  })

  it('on the flat part of an LFP curve balance is not assessed', () => {
    const seen = drive([], { car: { pack: { chemistry: 'lfp', startSoc: 0.5 } } })
    expect(question(seen, 'balance').state).toBe('not-assessed')
    expect(question(seen, 'balance').to_assess).toMatch(/end of a charge/)
  })

  it('fill the table of cells', () => {
    const seen = drive([])
    expect(seen.cells).toHaveLength(96)
    const [first] = seen.cells
    expect(first!.resistance_mohm).toBeGreaterThan(0.8)
    expect(first!.resistance_mohm_plus_minus).toBeGreaterThan(0)
    expect(first!.polarisation_mohm_plus_minus).toBeGreaterThan(0)
    expect(first!.between_cells).toEqual([1, 2])
    expect(first!.class).toBe('like-its-peers')
    expect(seen.cells[12]!.module).toBe(2)
  })
})

describe('logs that cannot tell', () => {
  it('without current: resistances not assessed, rest still read', () => {
    const n = 300
    const timeS = Float64Array.from({ length: n }, (_, i) => i / 10)
    const columns = Object.fromEntries(
      Array.from({ length: 12 }, (_, k) => [
        `cell_voltage.${k + 1}`,
        timeS.map(() => 3.7 + (k === 6 ? 0.03 : 0)),
      ]),
    )
    const seen = look(driveFromColumns(timeS, { ...columns, contactor_positive: timeS.map(() => 0) }), {})
    expect(question(seen, 'joint').state).toBe('not-assessed')
    expect(question(seen, 'joint').missing).toEqual(['pack_current'])
    expect(names(seen)).toEqual(['cell-imbalance 7'])
  })

  it('an empty drive, and one whose cells are all unbelievable, break nothing', () => {
    const timeS = Float64Array.from({ length: 50 }, (_, i) => i / 10)
    const nan = timeS.map(() => Number.NaN)
    const none = look(driveFromColumns(timeS, {}), {})
    expect(none.findings).toEqual([])
    expect(none.questions.every((each) => each.state === 'not-assessed')).toBe(true)
    const blind = look(
      driveFromColumns(timeS, {
        'cell_voltage.1': nan,
        'cell_voltage.2': nan,
        'cell_voltage.3': nan,
        'cell_voltage.4': nan,
        pack_current: nan,
      }),
      {},
    )
    expect(blind.questions.some((each) => /broke off/.test(each.why))).toBe(false)
  })
})
