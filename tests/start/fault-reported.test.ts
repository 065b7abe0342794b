import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { faultReported } from '../../src/start/questions/fault-reported.ts'
import { drawnStart } from '../helpers/drawn-start.ts'

const ask = (drive: Drive, vehicle: Vehicle = {}) => faultReported(gatherFacts(drive, vehicle))
const between = (from: number, to: number, inside: number, outside: number) => (t: number) =>
  t >= from && t < to ? inside : outside
const STATES: Vehicle = { states: { bms: { '1': 'idle', '6': 'closed', '9': 'fault' } } }

describe('a fault that a control unit reports', () => {
  it('a healthy drive whose battery unit says fault for 4 s: a finding with its words and its longest time', () => {
    const { findings, questions } = ask(drawnStart({ columns: { bms_state: between(8, 12, 9, 6) } }), STATES)
    expect(questions[0]).toMatchObject({ state: 'found' })
    expect(findings).toMatchObject([
      {
        kind: 'fault-reported',
        severity: 'attention',
        subject: { type: 'unit', name: 'bms' },
        value: expect.closeTo(4, 1),
        onset_s: expect.closeTo(8, 1),
        explained_by: null,
        question: questions[0]!.question,
      },
    ])
    expect(findings[0]!.headline).toContain('“fault”')
  })

  it('says stop where the words name what the contract lists, by bit and by the log’s own text', () => {
    const bits = { fault_bits: { bms: { '3': 'cell over limit' } } }
    const bit = ask(drawnStart({ columns: { bms_faults: between(8, 12, 8, 0) } }), bits)
    expect(bit.findings[0]).toMatchObject({ severity: 'stop' })
    expect(bit.findings[0]!.headline).toContain('cell over limit')
    const drive = drawnStart({ columns: { inverter_faults: between(8, 12, 1, 0) } })
    const channels = new Map(drive.channels)
    channels.set('inverter_faults', { ...channels.get('inverter_faults')!, labels: ['none', 'fan stuck'] })
    const text = ask({ ...drive, channels })
    expect(text.findings).toMatchObject([{ severity: 'attention', subject: { name: 'inverter' } }])
    expect(text.findings[0]!.headline).toContain('fan stuck')
  })

  it('is a note where it cleared before drive ready, and nothing in the first second after waking', () => {
    const early = ask(drawnStart({ columns: { bms_state: between(1.1, 2.2, 9, 1) } }), STATES)
    expect(early.findings).toMatchObject([{ severity: 'note' }])
    const waking = ask(drawnStart({ columns: { bms_state: between(0, 0.4, 9, 1) } }), STATES)
    expect(waking.findings).toEqual([])
    expect(waking.questions[0]!.state).toBe('nothing-found')
  })

  it('says what changed in the second before and what followed', () => {
    const { findings } = ask(
      drawnStart({
        keyOffS: 10.5,
        columns: { bms_state: between(10.2, 30, 9, 6), interlock_closed: (t) => (t >= 9.9 ? 0 : 1) },
      }),
      STATES,
    )
    expect(findings[0]!.reason).toContain('In the second before: interlock loop open at 9.90 s')
    expect(findings[0]!.reason).toContain('What followed: ')
    expect(findings[0]!.reason).toContain('positive contactor open')
  })

  it('a unit that faults because precharge failed is explained by that, on the sheet too', () => {
    const drive = drawnStart({
      closesS: null,
      loadOhm: 60,
      columns: { bms_faults: between(4.4, 30, 4, 0), bms_state: between(4.4, 30, 9, 1) },
    })
    const vehicle: Vehicle = { ...STATES, fault_bits: { bms: { '2': 'precharge timed out' } } }
    const review = reviewDrive(drive, vehicle)
    const noDrive = review.findings.find(({ kind }) => kind === 'no-drive')!
    const fault = review.findings.find(({ kind }) => kind === 'fault-reported')!
    expect(noDrive).toMatchObject({ severity: 'stop', subject: { name: 'precharge' } })
    expect(fault.explained_by).toBe(noDrive.id)
    expect(review.findings.indexOf(fault)).toBeGreaterThan(review.findings.indexOf(noDrive))
    expect(JSON.stringify(review.check_sheet)).not.toContain('its state is not a fault')
    expect(review.verdict.state).toBe('cannot-drive')
  })

  it('a bit without a name that stands throughout may be a status: nothing', () => {
    expect(ask(drawnStart({ columns: { bms_faults: () => 64 } })).findings).toEqual([])
  })
})
