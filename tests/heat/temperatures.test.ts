import { describe, expect, test } from 'vitest'
import { temperatures } from '../../src/heat/questions/temperatures.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const SECONDS = 1200
const timeS = Float64Array.from({ length: SECONDS }, (_, i) => i)
const half = (celsius: number): number => Math.round(celsius * 2) / 2

/** Four sensors warming by 10 K in twenty minutes, read in half degrees; `change` edits them by sensor and second. */
function warming(change: (sensor: number, t: number, celsius: number) => number) {
  const columns: Record<string, Float64Array> = {}
  for (let sensor = 1; sensor <= 4; sensor++)
    columns[`module_temperature.${sensor}`] = timeS.map((t) =>
      change(sensor, t, half(20 + sensor * 0.1 + t / 120)),
    )
  return gatherFacts(driveFromColumns(timeS, columns), { pack: { cell_temperature_max: 55 } })
}

const kinds = (facts: ReturnType<typeof warming>) =>
  temperatures(facts).findings.map(({ kind, severity, subject }) => [kind, severity, subject.index])

describe('temperatures', () => {
  test('an ordinary drive gives no finding, and says what would have shown', () => {
    const answer = temperatures(warming((_, __, celsius) => celsius))
    expect(answer.findings).toEqual([])
    expect(answer.questions.map((question) => question.state)).toEqual(Array(3).fill('nothing-found'))
    expect(answer.questions.every((question) => question.smallest_seen !== null)).toBe(true)
  })

  test('a sensor stuck while its peers warm by more than 3 K is frozen, with the time lost', () => {
    const facts = warming((sensor, t, celsius) =>
      sensor === 2 && t > 500 ? half(20.2 + 500 / 120) : celsius,
    )
    expect(kinds(facts)).toEqual([['temperature-reading-frozen', 'attention', 2]])
    expect(temperatures(facts).findings[0]!.value).toBeGreaterThan(600)
  })

  test('a sensor that never moved over a drive in which the pack warmed by 2 K only accuses nobody', () => {
    const facts = warming((sensor, t) => (sensor === 2 ? 20 : half(20 + t / 600)))
    expect(kinds(facts)).toEqual([])
    expect(temperatures(facts).questions[2]!.state).toBe('not-assessed')
  })

  test('past the limit for long is stop; a single spike is nothing', () => {
    expect(kinds(warming((sensor, t, celsius) => (sensor === 3 && t === 700 ? 80 : celsius)))).toEqual([])
    const hot = warming((sensor, t, celsius) =>
      sensor === 3 && t > 900 ? half(celsius + (t - 900) / 8) : celsius,
    )
    expect(kinds(hot)).toEqual(expect.arrayContaining([['temperature-limit', 'stop', 3]]))
  })

  test('59.9 of 60 °C is below the limit, 60.1 is past it', () => {
    // "Below the lower of data sheet and 60 °C": FSAE rules 2026, EV.7.5.2.
    const at = (celsius: number) =>
      kinds(
        gatherFacts(
          driveFromColumns(timeS, { 'module_temperature.1': timeS.map((t) => (t < 600 ? 59 : celsius)) }),
          {},
        ),
      )
    expect(at(59.9)).toEqual([])
    expect(at(60.1)).toEqual([['temperature-limit', 'attention', 1]])
  })

  test('lost samples are counted in seconds and loud only when many', () => {
    expect(
      kinds(warming((sensor, t, celsius) => (sensor === 4 && t > 300 && t < 305 ? Number.NaN : celsius))),
    ).toEqual([['temperature-reading-invalid', 'note', 4]])
    const open = temperatures(
      warming((sensor, t, celsius) => (sensor === 4 && t > 300 ? Number.NaN : celsius)),
    )
    expect(open.findings[0]!.severity).toBe('attention')
    expect(open.findings[0]!.value).toBeCloseTo(899, -1)
  })

  test('15 K in a minute is too fast', () => {
    expect(
      kinds(
        warming((sensor, t, celsius) =>
          sensor === 1 && t > 600 ? half(celsius + Math.min(15, (t - 600) / 4)) : celsius,
        ),
      ),
    ).toEqual([['temperature-rise-fast', 'attention', 1]])
  })
})
