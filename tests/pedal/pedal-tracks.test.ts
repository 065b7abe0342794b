import { describe, expect, it } from 'vitest'
import type { ChannelId } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import { LIMITS } from '../../shared/limits.ts'
import type { Finding } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { pedalTracks } from '../../src/pedal/questions/pedal-tracks.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { PEDAL_ENDS, pedalDrive, tapping } from '../helpers/pedal-drive.ts'
import { seeded } from '../helpers/shared-drive.ts'

const FILE: Vehicle = { pedal: PEDAL_ENDS }
const ask = (drive: Drive, vehicle: Vehicle = FILE) => pedalTracks(gatherFacts(drive, vehicle, LIMITS))
const of = (findings: readonly Finding[], kind: string) => findings.filter((each) => each.kind === kind)
const stops = (findings: readonly Finding[]) => findings.filter((each) => each.severity === 'stop')

/** Track 2 departs from 50 % by `points` from 2 s for `lastS` (its last bad sample lies there), read at `hz`. */
const departing = (points: number, lastS: number, hz: number): Drive =>
  pedalDrive({
    hz,
    seconds: hz < 5 ? 60 : 8,
    first: () => 50,
    second: (s) => (s >= 2 - 1e-9 && s <= 2 + lastS + 1e-9 ? 50 - points : 50),
  })

describe('the published rule of two tracks', () => {
  // Formula Student T11.8.8, T11.8.9; FSAE 2026 T.4.2.4, T.4.2.5: MORE than ten percentage points of travel for MORE
  // than 100 ms. Worked cases of /work/shared/checks.md A1, A2.
  it.each([
    ['exactly 10 points', 10, 1, 1000, false],
    ['10.1 points', 10.1, 1, 1000, true],
    ['10.1 points, track 2 above', -10.1, 1, 1000, true],
    ['14 points for 99 ms', 14, 0.099, 1000, false],
    ['14 points for exactly 100 ms', 14, 0.1, 1000, false],
    ['14 points for 101 ms', 14, 0.101, 1000, true],
    ['last bad sample at 100 ms, read every 10 ms', 14, 0.1, 100, false],
    ['last bad sample at 110 ms, read every 10 ms', 14, 0.11, 100, true],
  ] as const)('%s', (_, points, lastS, hz, trips) => {
    expect(stops(ask(departing(points, lastS, hz)).findings).length > 0).toBe(trips)
  })

  it('starts the timer anew after a recovery (A2)', () => {
    const drive = pedalDrive({
      hz: 100,
      seconds: 8,
      first: () => 50,
      second: (s) => ((s >= 2 && s < 2.09) || (s >= 2.12 && s < 2.21) ? 30 : 50),
    })
    expect(stops(ask(drive).findings)).toEqual([])
  })

  it('counts points of travel, not shares: 5 against 12 % is plausible (A1)', () => {
    const drive = pedalDrive({ hz: 100, seconds: 6, first: () => 5, second: () => 12 })
    expect(stops(ask(drive).findings)).toEqual([])
  })

  it('says how large, with its limit and source', () => {
    const [found] = of(ask(departing(14, 1, 100)).findings, 'pedal-mismatch')
    expect(found?.value).toBeCloseTo(14, 1)
    expect(found?.limit).toBe(10)
    expect(found?.limit_source).toContain('T11.8')
    expect(found?.onset_s).toBeCloseTo(2, 2)
  })

  it('takes the vehicle file\u2019s own limit and time', () => {
    const loose: Vehicle = { pedal: { ...PEDAL_ENDS, mismatch_percent: 20, mismatch_ms: 500 } }
    expect(stops(ask(departing(14, 1, 100), loose).findings)).toEqual([])
    expect(stops(ask(departing(25, 0.45, 100), loose).findings)).toEqual([])
    expect(stops(ask(departing(25, 0.55, 100), loose).findings)).toHaveLength(1)
  })
})

describe('what the sampling proves', () => {
  it('a blip of one sample at 10 Hz is neither found nor cleared', () => {
    const answer = ask(departing(25, 0, 10))
    expect(stops(answer.findings)).toEqual([])
    expect(answer.questions[0]?.state).toBe('not-assessed')
    expect(answer.questions[0]?.why).toContain('cannot time')
    expect(of(answer.findings, 'pedal-mismatch')[0]?.severity).toBe('note')
  })

  it('two samples at 10 Hz do not prove more than 100 ms; three do', () => {
    const two = ask(departing(25, 0.1, 10))
    expect(stops(two.findings)).toEqual([])
    expect(two.questions[0]?.state).toBe('not-assessed')
    expect(stops(ask(departing(25, 0.2, 10)).findings)).toHaveLength(1)
  })

  it('a blip that fast sampling times as shorter is cleared', () => {
    const answer = ask(departing(25, 0.05, 100))
    expect(answer.findings).toEqual([])
    expect(answer.questions[0]?.state).toBe('nothing-found')
  })

  it('1 Hz: a difference of some seconds is found, and the answer says how short a one it would miss', () => {
    const answer = ask(departing(14, 3, 1))
    expect(of(answer.findings, 'pedal-mismatch')[0]?.severity).toBe('stop')
    expect(ask(departing(0, 0, 1)).questions[0]?.why).toContain('2100 ms')
  })
})

describe('skew is not mismatch', () => {
  it('a track read 15 ms later, with a fast foot, does not accuse, and the skew is found', () => {
    const drive = pedalDrive({
      hz: 100,
      seconds: 40,
      first: tapping(90, 1.2),
      second: tapping(90, 1.2),
      skewS: 0.015,
    })
    const answer = ask(drive)
    expect(answer.findings).toEqual([])
    expect(answer.sections?.pedal?.skew_s).toBeCloseTo(0.015, 3)
    // without the correction the difference would be over the limit: 15 ms at up to 400 %/s
    expect(answer.sections?.pedal?.worst_held_points).toBeLessThan(3)
  })

  it('a true drift during fast movement is still found', () => {
    const drive = pedalDrive({
      hz: 100,
      seconds: 40,
      first: tapping(90, 1.2),
      second: (s) => tapping(90, 1.2)(s) + (s > 20 && s < 24 ? 14 : 0),
    })
    expect(of(ask(drive).findings, 'pedal-mismatch')[0]?.value).toBeGreaterThan(12)
  })
})

describe('noise', () => {
  it('1.5 points of noise on each track over ten minutes accuses nobody', () => {
    const random = seeded(4)
    const noisy = (of: (s: number) => number) => (s: number) =>
      of(s) + 1.5 * (random() + random() + random() + random() - 2) * 1.73
    const drive = pedalDrive({ hz: 100, seconds: 600, first: noisy(tapping(60)), second: noisy(tapping(60)) })
    const answer = ask(drive)
    expect(answer.findings).toEqual([])
    expect(answer.sections?.pedal?.noise_points).toBeCloseTo(1.5, 0)
    expect(answer.questions[0]?.smallest_seen).toBeGreaterThan(12)
  })
})

describe('end points learned from the drive', () => {
  const healthy = { hz: 50, seconds: 60, first: tapping(70), second: tapping(70) }
  const position = { more: { pedal_position: tapping(70), torque_request: tapping(70) } }

  it('mirrored pair with a logged position: both ends within 1 %', () => {
    const answer = ask(pedalDrive({ ...healthy, ...position }), {})
    const pedal = answer.sections?.pedal
    expect(pedal?.relation).toBe('mirrored')
    expect(pedal?.end_points_from).toBe('learned')
    expect(pedal?.track_1_v?.[0]).toBeCloseTo(0.8, 1)
    expect(pedal?.track_1_v?.[1]).toBeCloseTo(4.2, 1)
    expect(pedal?.track_2_v?.[1]).toBeCloseTo(0.8, 1)
    expect(answer.findings).toEqual([])
    expect(answer.assumptions?.[0]?.source).toContain('learned')
  })

  it('a drift of 14 points for 5 of 60 s does not bend them', () => {
    const answer = ask(
      pedalDrive({ ...healthy, second: (s) => tapping(70)(s) + (s > 30 && s < 35 ? 14 : 0), ...position }),
      {},
    )
    expect(of(answer.findings, 'pedal-mismatch')[0]?.value).toBeCloseTo(14, 0)
  })

  it('half-slope pair and counts', () => {
    const timeS = Float64Array.from({ length: 3001 }, (_, i) => i / 50)
    const travel = timeS.map(tapping(80))
    const half = driveFromColumns(timeS, {
      pedal_track_1: travel.map((p) => 0.9 + 0.03 * p),
      pedal_track_2: travel.map((p) => 0.45 + 0.015 * p),
      pedal_position: travel,
    })
    expect(ask(half, {}).sections?.pedal?.relation).toBe('same-way')
    const counts = driveFromColumns(timeS, {
      pedal_track_1: travel.map((p) => 700 + 26 * p),
      pedal_track_2: travel.map((p, i) => 3400 - 25 * p - (timeS[i]! > 30 && timeS[i]! < 33 ? 400 : 0)),
      pedal_position: travel,
    })
    const answer = ask(counts, {})
    expect(of(answer.findings, 'pedal-mismatch')[0]?.value).toBeCloseTo(16, 0)
    expect(answer.questions[1]?.state).toBe('not-assessed') // no volts, no range
  })

  it('both raw tracks equal from end to end is reported (FSAE T.4.2.3, FS T11.8.6; A4)', () => {
    const timeS = Float64Array.from({ length: 3001 }, (_, i) => i / 50)
    const volts = timeS.map((s) => 0.8 + 0.034 * tapping(70)(s))
    const drive = driveFromColumns(timeS, {
      pedal_track_1: volts,
      pedal_track_2: volts,
      torque_request: timeS.map(tapping(70)),
    })
    expect(of(ask(drive, {}).findings, 'pedal-tracks-equal')[0]?.severity).toBe('attention')
    // with the vehicle file's mirrored ends it is a mismatch like any other
    expect(of(ask(drive).findings, 'pedal-mismatch')[0]?.severity).toBe('stop')
  })

  it('only the controller\u2019s position: the tracks are not assessed', () => {
    const timeS = Float64Array.from({ length: 500 }, (_, i) => i / 10)
    const answer = ask(driveFromColumns(timeS, { pedal_position: timeS.map(tapping(70)) }), {})
    expect(answer.questions.map((each) => each.state)).toEqual(['not-assessed', 'not-assessed'])
    expect(answer.questions[0]?.missing).toEqual(['pedal_track_1', 'pedal_track_2'])
  })
})

describe('valid range', () => {
  // FSAE 2026 T.4.2.10 gives 0.5 and 4.5 V as an example: 0.49 fault, 0.50 ok, 4.50 ok, 4.51 fault (A5).
  const FSAE: Vehicle = { pedal: { ...PEDAL_ENDS, valid_v: [0.5, 4.5] } }
  const reading = (volts: number, forS: number, vehicle = FSAE) => {
    const drive = pedalDrive({ hz: 1000, seconds: 4, first: () => 20, second: () => 20 })
    const track = drive.channels.get('pedal_track_1')!
    const values = track.values.map((value, i) => (i >= 2000 && track.timeS[i]! < 2 + forS ? volts : value))
    const channels = new Map(drive.channels).set('pedal_track_1', { ...track, values })
    return of(ask({ ...drive, channels }, vehicle).findings, 'pedal-out-of-range')
  }

  it.each([
    [0.49, true],
    [0.5, false],
    [4.5, false],
    [4.51, true],
  ] as const)('%s V: fault %s', (volts, fault) => {
    expect(reading(volts, 1).length > 0).toBe(fault)
  })

  it('must last: 90 ms is none, 110 ms is one (FSAE T.4.3; A11)', () => {
    expect(reading(0.1, 0.09)).toEqual([])
    const [found] = reading(0.1, 0.11)
    expect(found?.subject.index).toBe(1)
    expect(found?.value).toBeCloseTo(0.1, 3)
    expect(found?.severity).toBe('stop')
    expect(found?.reason).toContain('ground')
  })

  it('a pedal without supply (key off) accuses nobody', () => {
    const drive = pedalDrive({
      hz: 100,
      seconds: 30,
      first: (s) => (s < 5 || s > 25 ? 0 : tapping(50)(s)),
      second: (s) => (s < 5 || s > 25 ? 0 : tapping(50)(s)),
      more: { key_on: (s) => (s >= 5 && s <= 25 ? 1 : 0) },
    })
    const dead = (id: ChannelId) => {
      const track = drive.channels.get(id)!
      return {
        ...track,
        values: track.values.map((value, i) =>
          track.timeS[i]! < 5 || track.timeS[i]! > 25.005 ? 0.01 : value,
        ),
      }
    }
    const channels = new Map(drive.channels)
      .set('pedal_track_1', dead('pedal_track_1'))
      .set('pedal_track_2', dead('pedal_track_2'))
    expect(ask({ ...drive, channels }).findings).toEqual([])
  })
})
