import { describe, expect, it } from 'vitest'
import { heatLimit } from '../../src/heat/questions/heat-limit.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

/** Lumped heat balance (any textbook): C dT/dt = P − (T − Tc) / R, closed form at constant mean heat. */
const TAU_S = 2400
const SETTLES_K = 30
const START_C = 24
const SECONDS = 1800
const at = (t: number): number => START_C + SETTLES_K * (1 - Math.exp(-t / TAU_S))

/** Five modules alike on a plate held at 24 °C, half an hour on an even load. */
function loaded(limitC: number) {
  const timeS = Float64Array.from({ length: SECONDS }, (_, i) => i)
  const columns: Record<string, Float64Array> = {
    pack_current: timeS.map((t) => (Math.floor(t / 15) % 2 === 0 ? 100 : 60)),
    coolant_in: timeS.map(() => START_C),
    coolant_out: timeS.map(() => START_C),
  }
  for (let module = 1; module <= 5; module++)
    columns[`module_temperature.${module}`] = timeS.map(
      (t) => Math.round(10 * (at(t) * 1 + 0.02 * (module - 3) * (at(t) - START_C))) / 10,
    )
  const drive = driveFromColumns(timeS, columns)
  const sensors = [[1], [2], [3], [4], [5]]
  return heatLimit(gatherFacts(drive, { pack: { cell_temperature_max: limitC, sensors_of_module: sensors } }))
}

describe('a limit that the same load would pass', () => {
  it('is said of modules that are no worse cooled than others, in the words of the safety page', () => {
    const limitC = 44
    const { findings } = loaded(limitC)
    const trueS = -TAU_S * Math.log(1 - (limitC - START_C) / SETTLES_K) - SECONDS
    expect(findings).toHaveLength(1)
    const [found] = findings
    expect(found).toMatchObject({ kind: 'temperature-forecast', severity: 'note', unit: 'min' })
    expect(found!.headline).toMatch(/possibly within \d+ min \(the lower end\); do not drive to find out/)
    expect(found!.low! * 60).toBeLessThan(trueS)
    expect(found!.value! * 60).toBeGreaterThan(0.5 * trueS)
    expect(found!.value! * 60).toBeLessThan(2 * trueS)
  })

  it('is not said where the load settles below the limit', () => {
    const { findings, questions } = loaded(75)
    expect(findings).toEqual([])
    expect(questions[0]).toMatchObject({ state: 'nothing-found' })
    expect(questions[0]!.why).toMatch(/would settle at \d+ °C; the limit is 75 °C/)
  })
})
