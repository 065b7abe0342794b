import { describe, expect, it } from 'vitest'
import type { ChannelId } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import { torqueLag } from '../../src/pedal/questions/torque-lag.ts'
import { torqueSignsAgree } from '../../src/pedal/questions/torque-signs.ts'
import { torqueUnrequested } from '../../src/pedal/questions/torque-unrequested.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { CAR, cruise, type Moment, releasedDrive } from '../helpers/released-drive.ts'

const ask = (drive: Drive) => torqueUnrequested(gatherFacts(drive, {}))
const said = (drive: Drive) => ask(drive).findings.map((each) => `${each.kind} ${each.severity}`)

/** A foot that presses for 6 s and lifts for 5 s; torque 70 N·m, lift-off −15 N·m while the car rolls. */
const foot = (s: number): number => (s > 3 && s % 11 < 6 ? 45 : 0)
const asked = ({ s, kmh }: Moment): number => (foot(s) > 0 ? Math.max(20, 70 - 0.5 * kmh) : kmh > 5 ? -15 : 0)
/** The inverter lets torque change by so much, N·m/s. */
const slewing = (paceNmS: number, of: (at: Moment) => number) => (at: Moment) =>
  at.nm + Math.max(-paceNmS * 0.01, Math.min(paceNmS * 0.01, of(at) - at.nm))
const scene = (
  torque: (at: Moment) => number,
  more: Partial<Parameters<typeof releasedDrive>[0]> = {},
): Drive => releasedDrive({ pedal: foot, request: asked, torque, ...more })

/** Battery power by Ohm's simplest: torque times speed at an efficiency of 0.9, 350 V. */
const battery = {
  pack_voltage: () => 350,
  pack_current: ({ nm, kmh }: Moment) => {
    const watts = nm * (kmh / 3.6 / CAR.radiusM) * CAR.ratio
    return (watts > 0 ? watts / 0.9 : watts * 0.9) / 350 + 1
  },
}

// The rule is the contract's (d): beyond the request by over 10 N·m and 20 % for over 0.3 s, lag and slew taken out.
describe('torque beyond its request', () => {
  it.each([
    ['a motor that follows at once', 2000],
    ['an inverter that slews with 150 N·m/s', 150],
    ['one that slews with 60 N·m/s', 60],
  ] as const)('%s gives nothing', (_, pace) => {
    expect(said(scene(slewing(pace, asked)))).toEqual([])
  })

  it('limits give less than asked, and that is nothing', () => {
    expect(said(scene((at) => (at.s > 60 ? 0.4 * asked(at) : asked(at))))).toEqual([])
  })

  it.each([
    ['25 N·m more for 2 s', (at: Moment) => asked(at) + (at.s > 46 && at.s < 48 ? 25 : 0), true],
    ['25 N·m more for 0.2 s', (at: Moment) => asked(at) + (at.s > 46 && at.s < 46.2 ? 25 : 0), false],
    ['9 N·m more for 5 s', (at: Moment) => asked(at) + (at.s > 50 && at.s < 55 ? 9 : 0), false],
    ['a fifth more than 60 N·m', (at: Moment) => asked(at) * (at.s > 47.5 && at.s < 49.5 ? 1.19 : 1), false],
    ['stuck at the release', (at: Moment) => (at.s > 49.9 && at.s < 53 ? 50 : asked(at)), true],
    ['14 N·m of drive where −15 are asked', (at: Moment) => (at.s > 51 && at.s < 53 ? 14 : asked(at)), true],
    [
      'braking of 30 N·m more than asked',
      (at: Moment) => asked(at) - (at.s > 51 && at.s < 53 ? 30 : 0),
      true,
    ],
  ] as const)('%s', (_, torque, found) => {
    expect(said(scene(torque))).toEqual(found ? ['torque-unrequested stop'] : [])
  })

  it('cruise control passes through the request', () => {
    const controller = cruise(() => 60)
    let at0 = Number.NaN
    let last = 0
    const once = (at: Moment): number => {
      if (at.s !== at0) last = at.s < 3 ? 0 : at.s < 9 ? 60 : controller(at)
      at0 = at.s
      return last
    }
    const drive = releasedDrive({ pedal: (s) => (s > 3 && s < 9 ? 40 : 0), torque: once, request: once })
    expect(said(drive)).toEqual([])
  })

  it('no request logged: not assessed, with what to log', () => {
    const answer = ask(releasedDrive({ pedal: foot, torque: asked }))
    expect(answer.questions[0]?.state).toBe('not-assessed')
    expect(answer.questions[0]?.missing).toEqual(['torque_request'])
    expect(answer.questions[0]?.to_assess).toContain('torque request')
  })
})

describe('torque and request of opposite sign', () => {
  const signs = (drive: Drive) =>
    torqueSignsAgree(gatherFacts(drive, {})).findings.map(
      (each) => `${each.kind} ${each.severity} ${each.subject.name}`,
    )
  const turned = (drive: Drive, id: ChannelId): Drive => {
    const channel = drive.channels.get(id)!
    return {
      ...drive,
      channels: new Map([
        ...drive.channels,
        [id, { ...channel, values: channel.values.map((value) => -value) }],
      ]),
    }
  }

  it('the log turns the sign of the torque: a note, and the lag is not made of it', () => {
    const drive = turned(scene(asked, { more: battery }), 'torque')
    expect(signs(drive)).toEqual(['signs-differ note torque'])
    expect(said(drive)).toEqual([])
    expect(torqueLag(gatherFacts(drive, {})).findings).toEqual([])
  })

  it('the log turns the sign of the request', () => {
    const drive = turned(scene(asked, { more: battery }), 'torque_request')
    expect(signs(drive)).toEqual(['signs-differ note torque_request'])
    expect(said(drive)).toEqual([])
  })

  it('a motor that acts against its request is a stop', () => {
    // rolling downhill: the foot asks for drive and the motor brakes
    const drive = scene((at) => -asked(at), {
      more: battery,
      slope: (s) => (s < 60 ? -12 : -9),
      startKmh: 30,
    })
    expect(signs(drive)).toEqual([])
    expect(said(drive)).toEqual(['torque-unrequested stop'])
  })

  it('without battery power nothing decides: attention', () => {
    const drive = turned(scene(asked), 'torque')
    expect(signs(drive)).toEqual(['signs-differ attention torque'])
  })
})
