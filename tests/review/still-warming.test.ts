import { describe, expect, it } from 'vitest'
import { reviewDrive } from '../../src/review/review.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { stillWarming } from '../../src/review/still-warming.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const vehicle = {
  pack: {
    capacity_ah: 60,
    sensors_of_module: [
      [1, 2],
      [3, 4],
      [5, 6],
    ],
  },
}

/** Ten minutes driven, then `restS` of rest; °C that module 2 gains in the rest by its own formula, in half degrees. */
function parked(gained: (restS: number) => number, { restS = 400, restA = 0.3 } = {}) {
  const timeS = Float64Array.from({ length: 600 + restS }, (_, i) => i)
  const columns: Record<string, Float64Array> = {
    pack_current: timeS.map((t) => (t < 600 ? (Math.floor(t / 20) % 2 === 0 ? 90 : -20) : restA)),
  }
  for (let sensor = 1; sensor <= 6; sensor++)
    columns[`module_temperature.${sensor}`] = timeS.map((t) => {
      const own = Math.ceil(sensor / 2) === 2 ? gained(Math.max(0, t - 600)) : 0
      return Math.round(2 * (30 + own + 0.1 * sensor)) / 2
    })
  return driveFromColumns(timeS, columns)
}

const said = (drive: ReturnType<typeof parked>) => stillWarming(gatherFacts(drive, vehicle))

describe('a temperature that still rises after key-off', () => {
  it('stands before touching, with the module, how much, and to keep away', () => {
    const drive = parked((s) => (0.6 * s) / 60)
    expect(said(drive)).toMatch(/still warms without current.*module 2 by [12](\.\d+)? K in the last 3 min/)
    expect(said(drive)).toMatch(/Keep away/)
    const { verdict, findings } = reviewDrive(drive, vehicle)
    expect(verdict.before_touching.some((each) => each.includes('still warms'))).toBe(true)
    expect(findings.filter(({ kind }) => kind === 'self-heating')).toEqual([])
  })

  it('is said even where the heat of a hard drive soaks outwards, and not once that has died away', () => {
    // two stores, 150 s: up to 1.1 K a minute at first (contract)
    const soak = (s: number): number => (1.1 / 60) * 150 * (1 - Math.exp(-s / 150))
    expect(said(parked(soak, { restS: 200 }))).not.toBeNull()
    expect(said(parked(soak, { restS: 900 }))).toBeNull()
  })

  it('is not said of a rest shorter than three minutes, of a charge, or where nothing moves by two steps', () => {
    expect(said(parked((s) => (2 * s) / 60, { restS: 150 }))).toBeNull()
    expect(said(parked((s) => (2 * s) / 60, { restA: -20 }))).toBeNull()
    expect(said(parked((s) => (0.1 * s) / 60))).toBeNull()
  })
})
