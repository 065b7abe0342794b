import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { bitsOf } from '../../src/start/models/start-signals.ts'
import { START_CHAIN } from '../../src/start/models/start-steps.ts'
import { checkSheet } from '../../src/start/questions/check-sheet.ts'
import { faultCodes } from '../../src/start/questions/fault-codes.ts'
import { BLOCKED, type DrawnStart, drawnStart } from '../helpers/drawn-start.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const sheet = (options: DrawnStart, vehicle: Vehicle = {}) =>
  checkSheet(gatherFacts(drawnStart(options), vehicle)).sections!.check_sheet!

describe('the check sheet', () => {
  it('is empty where the start came through', () => {
    expect(sheet({})).toEqual([])
  })

  it('a load across the link: consumers first, the resistor crossed off by the curve, held steps crossed off', () => {
    const lines = sheet({ closesS: null, loadOhm: 600 })
    expect(lines[0]).toMatchObject({ what: expect.stringContaining('consumers'), known: null })
    expect(lines.find(({ what }) => what.startsWith('precharge resistor'))!.known).toContain('levelled off')
    expect(lines.find(({ what }) => what.startsWith('Steps that'))!.known).toContain('interlock loop: closed')
  })

  it('an open path: the resistor is left to measure', () => {
    const lines = sheet({ closesS: null, open: true })
    expect(lines.find(({ what }) => what.startsWith('precharge resistor'))!.known).toBeNull()
    expect(lines.find(({ what }) => what.startsWith('resistance across'))!.known).toContain('no current')
  })

  it('with half of the channels gone it says what is unknown and what to log', () => {
    const lines = sheet({
      columns: {
        ...BLOCKED,
      },
      without: ['interlock_closed', 'inertia_closed', 'lv_voltage', 'isolation_resistance', 'pack_voltage'],
    })
    const log = lines.find(({ what }) => what.startsWith('Log next time'))!
    expect(log.what).toContain('interlock_closed')
    expect(log.what).toContain('lv_voltage')
    expect(lines.some(({ what }) => what.includes('negative contactor'))).toBe(true)
  })

  it('with nothing of a start in the log it lists what to log', () => {
    const facts = gatherFacts(driveFromColumns([0, 1], { 'cell_voltage.1': [4, 4] }), {})
    expect(checkSheet(facts).sections!.check_sheet![0]!.what).toContain('key_on')
  })

  it('never proposes what the safety page forbids', () => {
    const forbidden =
      /\b(jumper|bypass|by hand|force|megger)\b|(?<!not )(?<!do not )\bbridge the|clear (the )?fault(?!s down)|try again|start again|raise the (limit|time)|(?<!not )(?<!Do not )reset the inertia|\bsafe\b|no fault\b.*OK/i
    for (const step of START_CHAIN)
      for (const check of step.checks)
        expect(JSON.stringify({ ...check, cautions: [] }), step.name).not.toMatch(forbidden)
  })

  it('a step inside a battery box carries its caution; one on the link the charge that may stay', () => {
    const cautions = (name: string): string =>
      JSON.stringify(START_CHAIN.find((step) => step.name === name)!.checks.map((check) => check.cautions))
    expect(cautions('negative')).toContain('Modules stay live')
    expect(cautions('precharge')).toContain('DC link may hold charge')
    expect(cautions('inertia')).toContain('before the cause')
  })
})

describe('fault codes on the timeline', () => {
  it('names bits and states by the vehicle file, changes only', () => {
    const timeS = Array.from({ length: 50 }, (_, i) => i)
    const drive = driveFromColumns(timeS, {
      bms_faults: timeS.map((t) => (t < 10 ? 0 : t < 30 ? 8 : 10)),
      bms_state: timeS.map((t) => (t < 10 ? 3 : 5)),
    })
    const vehicle = { states: { bms: { '5': 'fault' } }, fault_bits: { bms: { '3': 'cell voltage low' } } }
    const events = faultCodes(gatherFacts(drive, vehicle)).sections!.timeline!
    expect(events.map(({ at_s, what }) => `${at_s} ${what}`)).toEqual([
      '0 Battery unit: state 3',
      '10 Battery unit: fault',
      '10 Battery unit fault: cell voltage low',
      '30 Battery unit fault: bit 1',
    ])
  })

  it('caps a chattering channel with a count', () => {
    const timeS = Array.from({ length: 500 }, (_, i) => i)
    const drive = driveFromColumns(timeS, { bms_state: timeS.map((t) => t % 2) })
    const events = faultCodes(gatherFacts(drive, {})).sections!.timeline!
    expect(events).toHaveLength(61)
    expect(events.at(-1)!.what).toContain('440 more')
  })

  it('reads bits beyond 32', () => {
    expect(bitsOf(2 ** 40 + 5)).toEqual([0, 2, 40])
  })
})
