import { describe, expect, it } from 'vitest'
import type { Vehicle } from '../../shared/vehicle.ts'
import { vehicleFile } from '../../src/log/questions/vehicle-file.ts'
import { mainPath } from '../../src/pack/questions/main-path.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const N = 600
const timeS = Float64Array.from({ length: N }, (_, i) => i / 5)
const amps = timeS.map((t) => 60 + 60 * Math.sign(Math.sin(t / 4)))

/** `logged` cells of a pack of `cells`, each 3.7 V and 0.5 mΩ. */
function facts(logged: number, cells: number, vehicle: Vehicle) {
  const columns: Record<string, Float64Array> = { pack_current: amps }
  for (let cell = 1; cell <= logged; cell++)
    columns[`cell_voltage.${cell}`] = amps.map((a) => 3.7 - a * 0.0005)
  columns.pack_voltage = amps.map((a) => cells * (3.7 - a * 0.0005) - 0.001 * a)
  columns['module_temperature.1'] = amps.map(() => 20)
  columns['module_temperature.2'] = amps.map(() => 20)
  return gatherFacts(driveFromColumns(timeS, columns), vehicle)
}

describe('the vehicle file against the log', () => {
  it('says how many cells each has, what pack voltage says, and what the review takes', () => {
    const { findings, questions } = vehicleFile(facts(24, 24, { pack: { cells: 25 } }))
    expect(findings).toMatchObject([
      { kind: 'vehicle-file-disagrees', severity: 'note', value: 24, limit: 25 },
    ])
    expect(findings[0]!.headline).toBe('The vehicle file says 25 cells, the log holds 24.')
    expect(findings[0]!.reason).toMatch(/takes 25 cells, 1 of them not logged.*24\.0 times the mean cell/)
    expect(questions[0]!.why).toContain('25 cells')
    expect(vehicleFile(facts(24, 24, { pack: { cells: 23 } })).findings[0]!.reason).toContain('all 24 cells')
  })

  it('says modules, boxes and sensors that do not fit', () => {
    const kinds = (pack: NonNullable<Vehicle['pack']>): string[] =>
      vehicleFile(facts(24, 24, { pack })).findings.map(({ headline }) => headline)
    expect(kinds({ cells: 24, cells_per_module: 8, box_of_module: ['front', 'rear', 'rear'] })).toEqual([])
    expect(kinds({ cells: 24, cells_per_module: 10 })[0]).toContain('do not divide into modules of 10')
    expect(kinds({ cells: 24, cells_per_module: [10, 10] })[0]).toContain('hold 20 cells, not 24')
    expect(kinds({ cells: 24, cells_per_module: 12, box_of_module: ['front'] })[0]).toContain(
      '1 modules of 2',
    )
    expect(kinds({ cells: 24, sensors_of_module: [[1]] })[0]).toContain('the log holds 2')
  })

  it('agrees, or has nothing to agree with', () => {
    expect(vehicleFile(facts(24, 24, { pack: { cells: 24 } })).questions[0]!.state).toBe('nothing-found')
    expect(vehicleFile(facts(24, 24, {})).questions[0]!.state).toBe('not-assessed')
  })
})

it('a log of half the cells, and no file that says so: their sum is not held against pack voltage', () => {
  const [question] = mainPath(facts(24, 48, {})).questions
  expect(question).toMatchObject({ state: 'not-assessed', missing: ['cell_voltage'] })
  expect(mainPath(facts(24, 24, {})).questions[0]!.state).toBe('nothing-found')
})
