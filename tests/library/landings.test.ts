import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { reviewSchema } from '../../shared/review.ts'
import { carAnswer } from '../../src/cars/answer.ts'
import { openCar } from '../../src/cars/open-car.ts'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { drivesIn, exportDrive, loadDrive, showDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { rememberedCorrections } from '../../src/library/remembered.ts'

/**
 * Libraries as the program of earlier landings wrote them (`write-landing.sh`): they open, and nothing of them is lost.
 * cadf7f3: the first landing, 25 November 2026. dfb1847: the second, 27 November 2026.
 */
const LANDINGS = join(import.meta.dirname, 'landings')
const dir = mkdtempSync(join(tmpdir(), 'aftermile-landings-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))

describe.each(readdirSync(LANDINGS))('a library stored by %s', (commit) => {
  const dataDir = join(dir, commit)
  cpSync(join(LANDINGS, commit), dataDir, { recursive: true })
  const stored = () => openPlace(dataDir)

  it('is listed with what later versions look for: car, kit, findings', () => {
    const [drive, ...others] = drivesIn(stored())
    expect(others).toEqual([])
    expect(drive).toMatchObject({ title: 'Juniper before the rain', car: 'Juniper', kit: 'Hedge' })
    expect(drive!.trouble).toBeUndefined()
    const raw = review(commit)
    expect(drive!.found!.map((each) => each.split(' ')[1]!.split('/')[0])).toEqual(
      raw.findings.map(({ kind }: { kind: string }) => kind),
    )
  })

  it('opens: log byte for byte, samples, vehicle file, notes, corrections, every finding', () => {
    const place = stored()
    const { id } = drivesIn(place)[0]!
    const shown = showDrive(place, id)
    expect(shown.troubles).toEqual([])
    expect(shown.notes).toBe('Bolt of joint 2 looked at.')
    expect(shown.vehicle).toMatchObject({ name: 'Juniper', kit: 'Hedge', pack: { cells: 3 } })
    expect(readFileSync(shown.logs[0]!.path, 'utf8').split('\n')).toHaveLength(92)
    const read = loadDrive(place, id).channels.get('pack_current')!
    expect(read.values).toHaveLength(90)
    expect(read.values[10]).toBeCloseTo(60, 3)
    expect(() => reviewSchema.parse(shown.review)).not.toThrow()
    const raw = review(commit)
    expect(shown.review.findings.map(({ kind, value }) => [kind, value])).toEqual(
      raw.findings.map(({ kind, value }: { kind: string; value: number | null }) => [kind, value]),
    )
    expect(rememberedCorrections(place, 'a layout')).toEqual({
      'Zeta 7': { channel: 'pack_current', unit: 'A' },
    })
    expect(
      exportDrive(place, id, join(dir, `${commit}-out`)).map((path) => path.split('/').at(-1)),
    ).toContain('tiny.csv')
  })

  it('has a car with its drive; reviewed again it keeps id, title and notes, and gains a record', async () => {
    const place = stored()
    expect(carAnswer(openCar(place, 'Juniper')).drives).toHaveLength(1)
    const { id, added_at: addedAt } = drivesIn(place)[0]!
    const { logs, vehicle } = showDrive(place, id)
    const replaces = { id, title: 'Juniper before the rain', addedAt }
    await importAndStore({ dataDir, logs, vehicle, replaces }, () => {})
    const again = showDrive(place, id)
    expect(again.stored.summary.title).toBe('Juniper before the rain')
    expect(again.notes).toBe('Bolt of joint 2 looked at.')
    expect(openCar(place, 'Juniper').record.vehicles).toHaveLength(1)
  })
})

/** The review as it lies in the fixture. */
function review(commit: string) {
  const [path] = readdirSync(join(LANDINGS, commit, 'drives'), { recursive: true, encoding: 'utf8' }).filter(
    (name) => name.endsWith('review.json'),
  )
  return JSON.parse(readFileSync(join(LANDINGS, commit, 'drives', path!), 'utf8'))
}
