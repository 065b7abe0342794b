import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { BOUNDS } from '../../shared/bounds.ts'
import { catalogueEntry } from '../../shared/channels.ts'
import { readColumnMap } from '../../src/naming/column-map.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { parseVehicle, readVehicleFile, unknownFields } from '../../src/open/vehicle-file.ts'
import { reviewDrive } from '../../src/review/review.ts'

const folder = mkdtempSync(join(tmpdir(), 'aftermile-bounds-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const file = (name: string, content: string | Uint8Array): string => {
  const path = join(folder, name)
  writeFileSync(path, content)
  return path
}

describe('bounds are told with a sentence, at the border', () => {
  it.each([
    ['{"pack":{"cells":1e9}}', 'field pack.cells: 1000000000 was found, at most 1000 was expected'],
    ['{"pack":{"parallel_cells":1e300}}', 'field pack.parallel_cells'],
    ['{"pack":{"cells_per_module":[8,1e9]}}', 'field pack.cells_per_module, entry 2'],
    ['{"pack":{"cells_per_module":0.0000001}}', 'field pack.cells_per_module'],
    [
      '{"pack":{"sensors_of_module":[[1],[2,"3"]]}}',
      'field pack.sensors_of_module, entry 2, 2: "3" was found',
    ],
    ['{"pack":{"ocv":[[0,3],[10,"x"]]}}', 'field pack.ocv, entry 2, 2: "x" was found, a number was expected'],
    [`${'['.repeat(5000)}${']'.repeat(5000)}`, 'brackets in brackets more than 32 deep'],
    [`{"x":${'{"a":'.repeat(40)}1${'}'.repeat(40)}}`, 'brackets in brackets more than 32 deep'],
  ])('%.60s', (text, sentence) => {
    expect(() => parseVehicle(text, 'car.json')).toThrow(sentence)
  })

  it('a bracket inside a text is no bracket', () => {
    expect(parseVehicle(JSON.stringify({ name: `${'['.repeat(99)}\\"` }), 'car.json').name).toContain('[[')
  })

  it('a list without end', () => {
    const box_of_module = Array.from({ length: BOUNDS.modules + 1 }, () => 'front')
    expect(() => parseVehicle(JSON.stringify({ pack: { box_of_module } }), 'car.json')).toThrow(
      'a list of at most 1000',
    )
  })

  it('a column numbered beyond any pack keeps its own name', async () => {
    expect(catalogueEntry('cell_voltage.1000')).toBeDefined()
    expect(catalogueEntry('cell_voltage.1001')).toBeUndefined()
    const head = 'time_s,Cell 1 voltage [V],Cell 2 voltage [V],Cell 999999999 voltage [V]'
    const rows = Array.from({ length: 50 }, (_, i) => `${i / 10},3.7,3.7,3.7`)
    const drive = await openDrive([file('wild.csv', [head, ...rows].join('\n'))])
    expect([...drive.channels.keys()]).not.toContain('cell_voltage.999999999')
    expect(reviewDrive(drive, {}).cells.length).toBeLessThanOrEqual(BOUNDS.cells)
  })

  it('more columns than a table may have', async () => {
    const names = Array.from({ length: BOUNDS.columns + 5 }, (_, i) => `c${i}`).join(',')
    const row = (t: number) => `${t}${',1'.repeat(BOUNDS.columns + 5)}`
    const path = file('wide.csv', [`t,${names}`, row(0), row(1), row(2), ''].join('\n'))
    await expect(openDrive([path])).rejects.toThrow('at most 20000 were expected')
  })

  it('logs put further apart than a drive may last', async () => {
    const rows = (of: string) => [
      'time_s,pack_voltage_V',
      ...Array.from({ length: 9 }, (_, i) => `${i},${of}`),
    ]
    const paths = ['a', 'b'].map((name) => file(`${name}.csv`, rows('400').join('\n')))
    await expect(openDrive(paths, { offsets: [1e12] })).rejects.toThrow('at most 31 days')
  })
})

describe('JSON as people’s programs write it', () => {
  const text = '{"pack":{"cells":96}}'
  const utf16 = Buffer.from(`\uFEFF${text}`, 'utf16le')
  it.each([
    ['a byte-order mark', Buffer.from(`\uFEFF${text}`)],
    ['UTF-16, little end first', utf16],
    ['UTF-16, big end first', Buffer.from(utf16).swap16()],
    ['UTF-16 without a mark', Buffer.from(text, 'utf16le')],
  ])('%s', async (_, bytes) => {
    expect((await readVehicleFile(file('mark.json', bytes))).pack?.cells).toBe(96)
  })

  it('names a slip inside a list by its place', async () => {
    const path = file('slip.json', '{"start_steps":{"add":[{"name":"a","channel":"b","held_wen":1}]}}')
    expect(await unknownFields(path)).toEqual(['start_steps.add.0.held_wen'])
  })

  it('two columns mapped to one channel are a slip', async () => {
    const path = file('map.json', '{"U1":"pack_voltage","U2":{"channel":"pack_voltage"}}')
    await expect(readColumnMap(path)).rejects.toThrow(
      '"U1" and "U2" are both mapped to "pack_voltage"; one column a channel was expected.',
    )
  })
})
