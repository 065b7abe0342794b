import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { drivesIn, showDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/** A disk of its own, in memory: only root may mount one. Elsewhere these are skipped, and `npm run faults` says so. */
const mount = (...args: string[]) => spawnSync('mount', args, { encoding: 'utf8' }).status === 0
const MiB = 2 ** 20
let disk = ''

function newDisk(bytes: number): string | null {
  disk = mkdtempSync(join(tmpdir(), 'aftermile-disk-'))
  return mount('-t', 'tmpfs', '-o', `size=${bytes}`, 'tmpfs', disk) ? disk : null
}

afterEach(() => {
  spawnSync('umount', ['-l', disk])
  rmSync(disk, { recursive: true, force: true })
})

const drive = smallDrive()
const review = reviewDrive(drive, {})

function save(dataDir: string, title: string, id?: string): string {
  const log = join(tmpdir(), `aftermile-disk-log-${process.pid}.csv`)
  writeFileSync(log, 'time,word\n0,1\n')
  try {
    const logs = [{ path: log, name: 'log.csv' }]
    return storeDrive(openPlace(dataDir), { drive, review, vehicle: {}, logs, title, ...(id ? { id } : {}) })
      .id
  } finally {
    rmSync(log)
  }
}

describe.skipIf(process.getuid?.() !== 0)('a disk of its own', () => {
  it('that is full: one sentence, what was stored stays, and it goes on when there is room', (context) => {
    const place = newDisk(3 * MiB)
    if (place === null) return context.skip('mounting is not allowed here')
    const dataDir = join(place, 'data')
    const first = save(dataDir, 'first')
    const filler = join(place, 'filler')
    writeFileSync(filler, '')
    const room = spawnSync('df', ['--output=avail', '-B1', place], { encoding: 'utf8' }).stdout.split('\n')[1]
    writeFileSync(filler, Buffer.alloc(Number(room) - 100_000))
    for (const id of [undefined, first])
      expect(() => save(dataDir, 'second', id)).toThrow(
        'The drive could not be stored: the disk is full. Nothing that was stored before has changed.',
      )
    expect(drivesIn(openPlace(dataDir)).map(({ title }) => title)).toEqual(['first'])
    expect(showDrive(openPlace(dataDir), first).troubles).toEqual([])
    rmSync(filler)
    save(dataDir, 'second')
    expect(
      drivesIn(openPlace(dataDir))
        .map(({ title }) => title)
        .sort(),
    ).toEqual(['first', 'second'])
  })

  it('that is read-only: what is stored is read, a write is one sentence', (context) => {
    const place = newDisk(16 * MiB)
    if (place === null) return context.skip('mounting is not allowed here')
    const dataDir = join(place, 'data')
    const first = save(dataDir, 'first')
    expect(mount('-o', 'remount,ro', place)).toBe(true)
    expect(drivesIn(openPlace(dataDir)).map(({ title }) => title)).toEqual(['first'])
    expect(showDrive(openPlace(dataDir), first).troubles).toEqual([])
    expect(() => save(dataDir, 'second', first)).toThrow('the disk is read-only')
  })
})
