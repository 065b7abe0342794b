import { describe, expect, it } from 'vitest'
import type { Drive } from '../../shared/drive.ts'
import { regenLimited } from '../../src/brake/models/regen-limited.ts'
import { type Figure, regenMap } from '../../src/brake/models/regen-map.ts'
import { regenBehaviour } from '../../src/brake/questions/regen-behaviour.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { type BrakeScript, brakeDrive, without } from '../helpers/brake-drive.ts'
import { seeded } from '../helpers/shared-drive.ts'

// Cars with known maps (issue 17's table): the helper's car shares nothing with the reader's model. The torque request
// is left out, so every map is seen through the inverter's lag, and every reading carries noise.
function read(changes: Partial<BrakeScript>) {
  const facts = gatherFacts(noisy(without(brakeDrive(changes), ['torque_request'])), {})
  return {
    fit: facts.once(regenMap)!,
    limited: facts.once(regenLimited)!,
    loud: [regeneration, regenBehaviour]
      .flatMap((part) => part(facts).findings)
      .filter((each) => each.severity !== 'note'),
  }
}

function noisy(drive: Drive): Drive {
  const random = seeded(7)
  const noise = () => random() + random() + random() - 1.5
  const channels = new Map(drive.channels)
  for (const [id, size] of [
    ['torque', 1.5],
    ['brake_pressure', 0.2],
    ['speed', 0.3],
  ] as const) {
    const channel = channels.get(id)!
    channels.set(id, { ...channel, values: channel.values.map((value) => value + size * noise()) })
  }
  return { ...drive, channels }
}

const holds = (figure: Figure | null | undefined, truth: number): void => {
  expect(figure?.bound).toBe('exact')
  expect(Math.abs(figure!.value - truth)).toBeLessThanOrEqual(figure!.plusMinus!)
}

describe('how lift-off and brake part join', () => {
  it('a sum whose parts fade at speeds of their own is told as a sum', () => {
    const { fit } = read({ liftNm: 12, liftFadeKmh: [8, 20], coastS: [3, 1] })
    expect(fit.form).toBe('sum')
    holds(fit.start, 3)
    holds(fit.liftNm, 12)
    holds(fit.brakeNm, 60)
    holds(fit.maxNm, 72)
  })

  it('a brake part that replaces lift-off is told; the most in all is its own', () => {
    const { fit } = read({ liftNm: 12, form: 'replaces', coastS: [3, 1] })
    expect(fit.form).toBe('replaces')
    holds(fit.start, 3)
    holds(fit.maxNm, 60)
  })

  it('the larger of both with equal fades is the same torque as a sum that begins later: left open, the interval holds', () => {
    const { fit, loud } = read({ liftNm: 12, form: 'larger', coastS: [3, 1] })
    expect(fit.form).toBeNull()
    holds(fit.start, 3)
    holds(fit.maxNm, 60)
    expect(loud).toEqual([])
  })
})

describe('ends that no press reached are bounds', () => {
  it.each([
    ['full at 60 bar', { fullBar: 60, liftNm: 8 }, 60, 68],
    ['light presses', { peaksBar: [4, 5, 6] }, 25, 60],
  ] as const)('%s', (_, changes, full, most) => {
    const { fit } = read(changes)
    expect([fit.full?.bound, fit.maxNm.bound]).toEqual(['at-least', 'at-least'])
    expect(fit.full!.value).toBeLessThanOrEqual(full)
    expect(fit.maxNm.value).toBeLessThanOrEqual(most)
    holds(fit.start, 3)
  })
})

describe('limits are of the moment, never the map', () => {
  it.each([
    ['voltage ceiling', { cellMaxV: 4.15 }],
    ['state of charge', { socLimit: { from: 80, none: 95 }, startSoc: 92 }],
    ['constant power at speed', { maxWatts: 9000 }],
  ] as const)(
    '%s, logged nowhere: the map stands, the limit is named, nothing else is accused',
    (cause, changes) => {
      const { fit, limited, loud } = read(changes)
      holds(fit.start, 3)
      if (fit.maxNm.bound === 'exact') holds(fit.maxNm, 60)
      else expect(fit.maxNm.value).toBeLessThanOrEqual(60)
      expect(limited.causes[0]?.cause).toBe(cause)
      expect(loud.map((each) => each.kind)).toEqual(['regen-limited'])
    },
  )
})

describe('what is no coasting', () => {
  it('cruise control with both feet off is not read as lift-off', () => {
    // the helper's car holds its speed with 12 N·m before each stop: here with the accelerator free
    const cruising = without(brakeDrive({ liftNm: 8, coastS: [3, 1.5] }), ['torque_request'], {
      pedal_position: (value) => (value === 12 ? 0 : value),
    })
    const fit = gatherFacts(noisy(cruising), {}).once(regenMap)!
    holds(fit.liftNm, 8)
    holds(fit.start, 3)
  })

  it('with no coasting at all, and torque before any press, the start is at most what light presses show', () => {
    const never = brakeDrive({ liftNm: 14, startBar: 2, coastS: [0, 0] })
    const { start, liftNm } = gatherFacts(never, {}).once(regenMap)!
    expect(liftNm === null || Math.abs(liftNm.value - 14) <= liftNm.plusMinus!).toBe(true)
    if (start!.bound === 'exact') holds(start, 2)
    else expect(start!.value).toBeGreaterThanOrEqual(2)
  })
})

describe('the fade', () => {
  it('is read through the inverter’s lag', () => {
    const { fit } = read({ lagS: 0.05, backBar: 0 })
    holds(fit.fadeKmh![0], 5)
    holds(fit.fadeKmh![1], 12)
  })
})

describe('steps and play', () => {
  it.each([
    ['on the way up', { step: { bar: 8, nm: 25 } }, 25],
    ['through an inverter that slews', { step: { bar: 8, nm: 32 }, slewNmS: 250 }, 32],
    ['in a log of 10 Hz', { step: { bar: 8, nm: 27 }, hz: 10 }, 27],
  ] as const)('a jump %s is measured', (_, changes, nm) => {
    const { loud } = read(changes)
    const step = loud.find((each) => each.kind === 'regen-step')
    expect(Math.abs(step!.value! - nm)).toBeLessThanOrEqual(Math.max(step!.plus_minus!, 0.06 * nm))
    expect(loud.map((each) => each.kind)).toEqual(['regen-step'])
  })

  it('where regeneration begins too late and with a jump, the late start alone is accused', () => {
    const { loud } = read({ startBar: 9, step: { bar: 9, nm: 25 } })
    expect(loud.map((each) => each.kind)).toEqual(['regen-dead-band'])
  })

  it('play of 1.2 bar between rising and falling press leaves the start where it is', () => {
    const { fit } = read({ backBar: 1.2, startBar: 2 })
    holds(fit.start, 2)
  })
})
