import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { channelNamed } from '../../shared/drive.ts'
import { runLibrary } from '../../src/library/command.ts'
import { compareDrives } from '../../src/library/compare-drives.ts'
import { isId, newId } from '../../src/library/ids.ts'
import {
  annotateDrive,
  drivesIn,
  exportDrive,
  loadDrive,
  plainName,
  removeDrive,
  showDrive,
} from '../../src/library/library.ts'
import { driveDir, openPlace } from '../../src/library/place.ts'
import { rememberCorrections, rememberedCorrections } from '../../src/library/remembered.ts'
import { saveDrive } from '../../src/library/save.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-library-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))

function freshPlace() {
  const place = openPlace(join(dir, newId()))
  const log = join(place.dataDir, 'a.csv')
  writeFileSync(log, 'time,current\n0,1\n')
  return { place, log }
}

const drive = smallDrive()
const review = reviewDrive(drive, { name: 'Teasel' })

describe('the library', () => {
  it('keeps a drive whole: logs byte for byte, review, vehicle, channels', async () => {
    const { place, log } = freshPlace()
    const id = await saveDrive({
      paths: [log],
      drive,
      review,
      vehicle: { name: 'Teasel' },
      dataDir: place.dataDir,
    })
    const shown = showDrive(place, id)
    expect(shown.review).toEqual(JSON.parse(JSON.stringify(review)))
    expect(shown.vehicle).toEqual({ name: 'Teasel' })
    expect(readFileSync(shown.logs[0]!.path)).toEqual(readFileSync(log))
    expect(shown.logs[0]!.name).toBe('a.csv')
    const back = loadDrive(place, id)
    expect(reviewDrive(back, { name: 'Teasel' }).findings).toEqual(review.findings)
    for (const [name, channel] of drive.channels)
      expect([...channelNamed(back.channels, name)!.values]).toEqual([...channel.values])
    expect(back.channels.get('pack_voltage')!.timeS).toBe(back.channels.get('pack_current')!.timeS)
  })

  it('keeps the offsets that were given, and the worst finding for the list', async () => {
    const { place, log } = freshPlace()
    const id = await saveDrive({
      paths: [log, log],
      drive,
      review,
      vehicle: {},
      dataDir: place.dataDir,
      offsets: [-3.25],
    })
    expect(showDrive(place, id).offsets).toEqual([-3.25])
    const worst = review.findings.find(({ severity }) => severity !== 'note')?.headline ?? null
    expect(drivesIn(place)[0]).toMatchObject({ worst, unseen: ['start', 'pedal'] })
  })

  it('lists the newest first, removes, and leaves nothing half-written', () => {
    const { place, log } = freshPlace()
    const save = { drive, review, logs: [{ path: log, name: 'a.csv' }], vehicle: {} }
    const first = storeDrive(place, { ...save, id: '20300101-000000-aaaaaa' })
    const second = storeDrive(place, { ...save, id: '20300102-000000-bbbbbb' })
    expect(drivesIn(place).map(({ id }) => id)).toEqual([second.id, first.id])
    removeDrive(place, second.id)
    expect(drivesIn(place).map(({ id }) => id)).toEqual([first.id])
    expect(() =>
      storeDrive(place, { ...save, logs: [{ path: join(dir, 'not-there'), name: 'x' }] }),
    ).toThrow()
    expect(readdirSync(join(place.dataDir, 'drives'))).toEqual([first.id])
    mkdirSync(join(place.dataDir, 'drives', '20300103-000000-cccccc'))
    expect(drivesIn(place)).toHaveLength(1)
  })

  it('replaces a drive in one move, keeping its id', () => {
    const { place, log } = freshPlace()
    const save = { drive, review, logs: [{ path: log, name: 'a.csv' }], vehicle: {} }
    const { id } = storeDrive(place, save)
    storeDrive(place, { ...save, id, title: 'Second reading' })
    expect(drivesIn(place)).toMatchObject([{ id, title: 'Second reading' }])
    annotateDrive(place, id, 'Looked at the joint.', 'Third title')
    expect(showDrive(place, id)).toMatchObject({
      notes: 'Looked at the joint.',
      stored: { summary: { title: 'Third title' } },
    })
  })

  it('exports originals under plain names, and refuses a folder in use', () => {
    const { place, log } = freshPlace()
    const { id } = storeDrive(place, {
      drive,
      review,
      logs: [
        { path: log, name: '../../evil.csv' },
        { path: log, name: 'evil.csv' },
      ],
      vehicle: {},
    })
    const out = join(dir, 'out')
    const written = exportDrive(place, id, out)
    expect(written.every((path) => path.startsWith(out))).toBe(true)
    expect(readdirSync(out).sort()).toEqual([
      '2-evil.csv',
      'evil.csv',
      'notes.json',
      'review.json',
      'vehicle.json',
    ])
    expect(() => exportDrive(place, id, out)).toThrow(/is not empty/)
  })

  it('remembers corrections by the layout of the log', () => {
    const { place } = freshPlace()
    rememberCorrections(place, 'layout one', { 'Zeta 7': { channel: 'pack_current', unit: 'A' } })
    rememberCorrections(place, 'layout one', { Spare: { channel: null, unit: null } })
    expect(rememberedCorrections(place, 'layout one')).toEqual({
      'Zeta 7': { channel: 'pack_current', unit: 'A' },
      Spare: { channel: null, unit: null },
    })
    expect(rememberedCorrections(place, '../../../etc/passwd')).toEqual({})
  })

  it('makes no path of anything but its own ids', () => {
    const { place } = freshPlace()
    for (const bad of [
      '..',
      '../x',
      '20300101-000000-aaaaaa/..',
      '',
      'drive.json',
      '%2e%2e',
      '20300101-000000-AAAAAA',
    ])
      expect(() => driveDir(place, bad)).toThrow('There is no stored drive')
    expect(isId(newId())).toBe(true)
  })
})

it('plain names keep the name and lose the folders', () => {
  expect(plainName('C:\\logs\\run 1.csv')).toBe('run 1.csv')
  expect(plainName('../../.bashrc')).toBe('_bashrc')
  expect(plainName('/')).toBe('log')
})

describe('comparing two drives', () => {
  it('tells findings gone, come and stayed, and figures with the interval of their change', () => {
    const finding = {
      ...{
        id: 'joint-resistance-high/joint-3',
        kind: 'joint-resistance-high' as const,
        severity: 'attention' as const,
        subject: { type: 'joint' as const, index: 3 },
      },
      ...{ span_s: [0, 1] as [number, number], onset_s: 0, value: 0.5, unit: 'mΩ', low: 0.4, high: 0.6 },
      ...{
        plus_minus: 0.1,
        bound: 'exact' as const,
        limit: 0.15,
        limit_source: null,
        headline: 'h',
        reason: 'r',
      },
      ...{
        next_step: 'n',
        cautions: [],
        rivals: [],
        evidence: { channels: [], span_s: [0, 1] as [number, number] },
        ...{ explained_by: null, also: [], question: null },
      },
    }
    const energy = { ...review.energy, out_wh: 100, out_wh_plus_minus: 3 }
    const before = { ...review, findings: [finding], energy }
    const after = {
      ...review,
      findings: [{ ...finding, subject: { type: 'joint' as const, index: 4 } }],
      energy: { ...energy, out_wh: 110, out_wh_plus_minus: 4 },
    }
    const comparison = compareDrives(before, after)
    expect(comparison.gone).toHaveLength(1)
    expect(comparison.came).toHaveLength(1)
    expect(comparison.stayed).toHaveLength(0)
    expect(comparison.figures.find(({ what }) => what === 'Energy out')).toEqual({
      what: 'Energy out',
      unit: 'Wh',
      before: 100,
      after: 110,
      change: 10,
      plus_minus: 5,
      certain: true,
    })
  })
})

describe('aftermile library', () => {
  it('lists, shows, compares and removes', async () => {
    const { place, log } = freshPlace()
    const save = { drive, review, logs: [{ path: log, name: 'a.csv' }], vehicle: { name: 'Teasel' } }
    const { id } = storeDrive(place, save)
    const said: string[] = []
    const run = (...args: string[]) => runLibrary(args, { data: place.dataDir }, (text) => said.push(text))
    expect(await run('list')).toBe(0)
    await run('show', id)
    await run('compare', id, id)
    await run('remove', id)
    await run()
    expect(said[0]).toContain(`${id}  Teasel`)
    expect(said[1]).toContain('not an inspection')
    expect(said[2]).toContain('before: Teasel')
    expect(said[4]).toBe('No drives are stored here yet.\n')
    await expect(run('show')).rejects.toThrow('nothing was given; one id was expected')
    await expect(run('burn')).rejects.toThrow('there is no "burn"')
    await expect(run('show', '../x')).rejects.toThrow('no stored drive')
  })
})
