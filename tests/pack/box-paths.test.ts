import { describe, expect, it } from 'vitest'
import { boxPaths } from '../../src/pack/models/box-paths.ts'
import { mainPath } from '../../src/pack/questions/main-path.ts'
import { stringShare } from '../../src/pack/questions/string-share.ts'
import { linkCauses } from '../../src/review/link-causes.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { judge } from '../studies/rest/family.ts'
import { linkCable } from '../studies/rest/link-cable.ts'

/** Six cells of 2 mΩ in two boxes of three; box 2 behind a plug. A load that steps between 0 and 120 A; it warms by 10 K. */
function drawn(plug: (t: number) => number) {
  const timeS = Array.from({ length: 4000 }, (_, i) => i / 10)
  const amps = timeS.map((t) => 60 + 60 * Math.sign(Math.sin(t / 3)) * (0.5 + 0.5 * Math.sin(t / 47) ** 2))
  const cells = amps.map((each) => 3.7 - 0.002 * each)
  const drop = timeS.map((t, i) => plug(t) * 1e-3 * amps[i]!)
  const columns: Record<string, number[]> = {
    pack_current: amps,
    pack_voltage: cells.map((volts, i) => 6 * volts - drop[i]!),
    'box_voltage.1': cells.map((volts) => 3 * volts),
    'box_voltage.2': cells.map((volts, i) => 3 * volts - drop[i]!),
    'module_temperature.1': timeS.map((t) => 20 + t / 40),
    'module_temperature.2': timeS.map((t) => 20 + t / 40),
  }
  for (let k = 1; k <= 6; k++) columns[`cell_voltage.${k}`] = cells
  const vehicle = { pack: { cells: 6, cells_per_module: 3, box_of_module: ['front', 'rear'] } }
  return gatherFacts(driveFromColumns(timeS, columns), vehicle)
}
const loud = (plug: (t: number) => number) => mainPath(drawn(plug)).findings

describe('boxes against their cells', () => {
  it('finds the borders from the readings, and the names from the vehicle file', () => {
    expect(boxPaths(drawn(() => 0)).map(({ name, modules }) => [name, modules])).toEqual([
      ['box front', [1]],
      ['box rear', [2]],
    ])
  })

  it('a plug of 8 mΩ is told of its box, and the main path is explained by it', () => {
    const facts = drawn(() => 8)
    const found = mainPath(facts).findings
    const link = found.find(({ subject }) => subject.name === 'box rear')!
    expect(link).toMatchObject({ kind: 'box-link-resistance-high', severity: 'attention' })
    expect(link.value).toBeCloseTo(8, 1)
    const [path] = linkCauses(found, { facts, cells: [], modules: [] }).filter(
      ({ kind }) => kind === 'main-path-resistance-high',
    )
    expect(path!.explained_by).toBe(link.id)
  })

  it('one that rises with warmth faster than copper (IEC 60028: 0.39 %/K), and one that jumps', () => {
    const rising = loud((t) => 1.2 * (1 + 0.012 * (t / 4)))
    expect(rising.find(({ subject }) => subject.name === 'box rear')!.reason).toContain(
      'where copper rises by 0.4 %',
    )
    const copper = loud((t) => 0.6 * (1 + 0.0039 * (t / 40)))
    expect(copper.filter(({ subject }) => subject.name)).toEqual([])
    const loose = loud((t) => (t < 180 ? 1 : 12)).find(({ subject }) => subject.name === 'box rear')!
    expect(loose.reason).toContain('It jumps')
    // over the drive, weighted by current squared (contract)
    const { timeS, values } = drawn(() => 0).drive.channels.get('pack_current')!
    const heat = values.map((amps) => amps ** 2)
    const sum = (all: Float64Array): number => all.reduce((total, each) => total + each, 0)
    const truth = sum(heat.map((each, i) => each * (timeS[i]! < 180 ? 1 : 12))) / sum(heat)
    expect(Math.abs(loose.value! / truth - 1)).toBeLessThan(0.1)
  })

  it('is not assessed without a box’s voltage', () => {
    const facts = gatherFacts(driveFromColumns([0, 1], { speed: [0, 0] }), {})
    expect(mainPath(facts).questions.at(-1)).toMatchObject({
      state: 'not-assessed',
      missing: ['box_voltage'],
    })
  })

  it('ill on the second simulator’s car', () => {
    expect(judge(linkCable, linkCable.draw('second', 3, true), true)).toMatchObject({
      found: true,
      covered: true,
      false: [],
    })
  })
})

describe('parallel strings', () => {
  const timeS = Array.from({ length: 600 }, (_, i) => i / 10)
  const amps = timeS.map((t) => 60 + 50 * Math.sin(t / 3))
  const strings = (first: number, second: number) =>
    stringShare(
      gatherFacts(
        driveFromColumns(timeS, {
          pack_current: amps,
          pack_voltage: amps.map((each) => 400 - 0.1 * each),
          'box_current.1': amps.map((each) => -first * each),
          'box_current.2': amps.map((each) => -second * each + 0.4),
        }),
        {},
      ),
    ).questions[0]!

  it('are told by their shares; boxes in series are no strings', () => {
    expect(strings(0.45, 0.55).why).toMatch(/string 1 45\.0 ± .* %, string 2 55\.0/)
    expect(strings(1, 1)).toMatchObject({ state: 'not-assessed', missing: [] })
  })
})
