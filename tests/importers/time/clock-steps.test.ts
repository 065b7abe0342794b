import { describe, expect, test } from 'vitest'
import { StraightClock } from '../../../src/importers/time/clock-steps.ts'
import { pcapOf } from '../../helpers/capture-bytes.ts'
import { byteSignals, frameLogFromBytes } from '../../helpers/frame-log-from-bytes.ts'

/** Stamps drawn as text. */
const stamps = (text: string): Float64Array => Float64Array.from(text.trim().split(/\s+/), Number)
function straightenTime(written: Float64Array, local = false) {
  const clock = new StraightClock(local)
  clock.straighten(written, written.length)
  return { timeS: written, steps: clock.steps }
}

const fixed = (timeS: Float64Array): string => [...timeS].map((time) => time.toFixed(1)).join(' ')

describe('steps of a log’s own clock', () => {
  test.each([
    ['none', '0.0 0.1 0.2 0.3', '0.0 0.1 0.2 0.3', []],
    ['a pause is no step', '0.0 0.1 0.2 45.0 45.1', '0.0 0.1 0.2 45.0 45.1', []],
    ['one stamp out of its place', '10.0 10.1 900.0 10.3 10.4', '10.0 10.1 10.1 10.3 10.4', []],
    ['back by 3 s', '10.0 10.1 10.2 7.3 7.4', '10.0 10.1 10.2 10.3 10.4', [-3]],
    ['the counter starts again', '812.3 812.4 0.0 0.1', '812.3 812.4 812.5 812.6', [-812.5]],
    ['a 16-bit counter of milliseconds wraps', '65.4 65.5 0.064 0.164', '65.4 65.5 65.6 65.7', [-65.536]],
    ['midnight', '86399.8 86399.9 0.0 0.1', '86399.8 86399.9 86400.0 86400.1', [-86400]],
    [
      '1970 until the clock was set',
      '12.0 12.1 1773479553.0 1773479553.1',
      '12.0 12.1 12.2 12.3',
      [1773479540.8],
    ],
  ])('%s', (_, written, want, steps) => {
    const found = straightenTime(stamps(written))
    expect(fixed(found.timeS)).toBe(want)
    expect(found.steps.map((step) => Number(step.step_s.toFixed(3)))).toEqual(steps)
  })

  test('an hour forward is daylight saving on a local clock, a pause elsewhere', () => {
    const written = stamps('100.0 100.1 3700.2 3700.3')
    expect(straightenTime(written.slice()).steps).toEqual([])
    const local = straightenTime(written, true)
    expect(local.steps[0]!.why).toMatch(/daylight saving/)
    expect(fixed(local.timeS)).toBe('100.0 100.1 100.2 100.3')
  })

  test('frames: steps are taken out, told, and put on the timeline; the date is the one after the clock was set', async () => {
    const second = 1_000_000_000n
    const at = (ns: bigint) => ({ ns, identifier: 0x123, data: [1] })
    const log = await frameLogFromBytes(
      pcapOf([
        at(12n * second),
        at(12n * second + 100_000_000n),
        at(1_773_479_553n * second),
        at(1_773_479_553n * second + 100_000_000n),
      ]),
      byteSignals(0x123, 1),
    )
    expect(fixed(log.series[0]!.timeS)).toBe('12.0 12.1 12.2 12.3')
    expect(log.clockSteps).toHaveLength(1)
    expect(log.events[0]!.what).toMatch(/^clock step/)
    expect(log.startedAt).toBe('2026-03-14T09:12:20.800Z')
  })
})
