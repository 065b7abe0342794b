import { describe, expect, it } from 'vitest'
import { sharedColumns } from '../../src/math/many-regressions.ts'
import { bendColumn, kineticsOf, NO_KINETICS } from '../../src/pack/models/cell-kinetics.ts'
import { pathResistance } from '../../src/pack/models/path-resistance.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { linearAt } from '../../src/samples/on-one-clock.ts'
import { simulate } from '../simulator/simulate.ts'

/** Currents of a drive: bursts and coasting, 0.2 s apart. */
const amps = Float64Array.from(
  { length: 3000 },
  (_, i) => 60 * Math.sin(i / 17) ** 3 + 40 * Math.sin(i / 61) + 8,
)
const ones = new Float64Array(3000).fill(1)
const plain = sharedColumns([amps, ones])
const bend = bendColumn(amps, plain, 40)

/** Least squares on current, one and bend of a curve of current. */
function figures(volts: (amps: number) => number): { ohmic: number; bend: number } {
  const y = amps.map(volts)
  const dot = (a: Float64Array, b: Float64Array): number =>
    a.reduce((sum, value, i) => sum + value * b[i]!, 0)
  const [xx, x1, n] = [dot(amps, amps), dot(amps, ones), amps.length]
  const [xy, y1] = [dot(amps, y), dot(ones, y)]
  return { ohmic: (n * xy - x1 * y1) / (n * xx - x1 * x1), bend: dot(bend, y) / dot(bend, bend) }
}

/** η = (4RT/F) asinh(i / 2 i₀) of both electrodes at 25 °C. Source: Butler-Volmer, α = ½ (Newman, from memory). */
const transfer =
  (exchangeA: number) =>
  (current: number): number =>
    ((4 * 8.314462618 * 298.15) / 96485.33212) * Math.asinh(current / (2 * exchangeA))

describe('charge transfer', () => {
  it('metal has no bend; a curve of charge transfer has one', () => {
    expect(Math.abs(figures((current) => 0.001 * current).bend)).toBeLessThan(1e-12)
    expect(figures(transfer(30)).bend).toBeGreaterThan(1e-4)
  })

  it('from the pack\u2019s bend: its part of the ohmic figure, and what a cell with less exchange current gains', () => {
    const own = figures(transfer(60))
    const whole = own.ohmic + 0.0008
    const kinetics = kineticsOf(plain, bend, own.bend, whole)
    expect(kinetics.ohmicOhm / own.ohmic).toBeCloseTo(1, 1)
    const half = figures(transfer(30))
    expect(kinetics.grown(2).ohmicOhm / (half.ohmic - own.ohmic)).toBeCloseTo(1, 1)
    expect(kinetics.grown(2).bendOhm / (half.bend - own.bend)).toBeCloseTo(1, 1)
    // at small currents twice, at large ones a constant voltage: less than twice over the drive (asinh)
    expect(kinetics.grown(2).ohmicOhm).toBeLessThan(own.ohmic)
  })

  it('a pack without a bend says nothing', () => {
    expect(kineticsOf(plain, bend, 1e-6, 0.001)).toBe(NO_KINETICS)
  })
})

describe('main path', () => {
  it('is not made of cells that are averaged over three scans at 1 Hz', () => {
    const { drive, vehicle } = simulate({
      seed: 1,
      route: { kind: 'mixed', durationS: 400 },
      style: { cellHz: 1, currentHz: 1 },
    })
    const facts = gatherFacts(drive, vehicle)
    const cells = [...drive.channels.values()].filter((each) => each.id.startsWith('cell_voltage.'))
    const { timeS } = cells[0]!
    const sum = timeS.map((moment) =>
      cells.reduce((total, each) => total + linearAt(each, Float64Array.of(moment))[0]!, 0),
    )
    const averaged = sum.map((value, i) => (i < 2 ? value : (value + sum[i - 1]! + sum[i - 2]!) / 3))
    const pack = drive.channels.get('pack_voltage')!
    const at = (values: Float64Array): { milliohm: number; plusMinus: number } =>
      pathResistance(facts, { timeS, values }, pack)!
    const straight = at(sum)
    const late = at(averaged)
    // 17 to 25 mΩ before; what is left of it stands in the interval
    expect(Math.abs(late.milliohm - straight.milliohm)).toBeLessThan(Math.min(3, late.plusMinus))
    expect(late.milliohm - late.plusMinus).toBeLessThan(4)
  })
})
