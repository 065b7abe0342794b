import { describe, expect, it } from 'vitest'
import { contactorState } from '../../src/car/contactor-state.ts'
import { conditioned, SMALL_VEHICLE, smallDrive } from '../helpers/stop-and-go.ts'

// the small drive: precharge from 11 s, both mains closed from 12 s to 210 s
const small = smallDrive()
const without = (...ids: string[]): Record<string, Float64Array> =>
  Object.fromEntries(Object.entries(small.columns).filter(([id]) => !ids.some((each) => id.startsWith(each))))
const stateOf = (columns: Record<string, Float64Array>, vehicle = SMALL_VEHICLE) =>
  contactorState(conditioned({ timeS: small.timeS, columns }, vehicle).facts)
const course = (columns: Record<string, Float64Array>): string[] =>
  stateOf(columns).spans.map(({ state, span_s }) => `${state} ${span_s[0].toFixed(0)}`)

describe('when the pack was on the link', () => {
  it('comes from the contactors, precharge included', () => {
    expect(course(small.columns)).toEqual(['open 0', 'precharging 11', 'closed 12', 'open 210'])
    expect(stateOf(small.columns).from).toBe('contactors')
  })

  it('covers the whole drive without holes', () => {
    const { spans } = stateOf(small.columns)
    expect(spans[0]!.span_s[0]).toBe(0)
    for (let i = 1; i < spans.length; i++) expect(spans[i]!.span_s[0]).toBe(spans[i - 1]!.span_s[1])
  })

  it('prefers feedback to the plain channel and that to the command', () => {
    const never = small.timeS.map(() => 0)
    const columns = {
      ...small.columns,
      contactor_positive_feedback: never,
      contactor_positive_command: never,
    }
    columns.contactor_positive_feedback = small.columns.contactor_positive!.map((value, i) =>
      small.timeS[i]! < 190 ? value : 0,
    )
    expect(course(columns)).toEqual(['open 0', 'precharging 11', 'closed 12', 'open 190'])
  })

  it('comes from the link voltage where no contactor is logged', () => {
    const found = stateOf(without('contactor'))
    expect(found.from).toBe('link-voltage')
    expect(found.of('closed')[0]![0]).toBeCloseTo(12, 0)
    expect(found.of('closed')[0]![1]).toBeCloseTo(210, 0)
    expect(found.of('precharging')[0]![0]).toBeCloseTo(11, 0)
  })

  it('comes from the battery unit’s state by the vehicle file’s words', () => {
    const columns = without('contactor', 'link')
    columns.bms_state = small.timeS.map((t) => (t < 11 ? 1 : t < 12 ? 2 : t < 210 ? 3 : 1))
    const found = stateOf(columns, { states: { bms: { '1': 'waiting', '2': 'precharge', '3': 'closed' } } })
    expect(found.from).toBe('bms-state')
    expect(found.of('closed')[0]![0]).toBeCloseTo(12, 0)
  })

  it('keeps a state that was written only when it changed', () => {
    const drive = conditioned({ timeS: small.timeS, columns: small.columns })
    const channels = new Map(drive.facts.drive.channels)
    for (const id of ['contactor_positive', 'contactor_negative', 'contactor_precharge']) {
      const each = channels.get(id)!
      const keep = (_: number, i: number): boolean => i === 0 || each.values[i] !== each.values[i - 1]
      channels.set(id, { ...each, timeS: each.timeS.filter(keep), values: each.values.filter(keep) })
    }
    const found = contactorState({ ...drive.facts, drive: { ...drive.facts.drive, channels } })
    expect(found.of('closed')).toHaveLength(1)
    expect(found.of('closed')[0]![1]).toBeCloseTo(210, 0)
  })

  it('is unknown where nothing tells', () => {
    expect(stateOf(without('contactor', 'link')).spans).toEqual([
      { span_s: [0, small.timeS[small.timeS.length - 1]!], state: 'unknown' },
    ])
  })
})
