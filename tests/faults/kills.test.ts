import { execFile, spawn, spawnSync } from 'node:child_process'
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { hostname, tmpdir } from 'node:os'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { afterAll, describe, expect, it } from 'vitest'
import { currentFolder } from '../../src/library/generations.ts'
import { drivesIn, exportDrive, removeDrive, showDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { recover } from '../../src/library/recover.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'
import { leftovers, STEPS, UPLOAD_STEPS, wordOf } from './look.ts'

const CHILD = join(import.meta.dirname, 'child.ts')
const root = mkdtempSync(join(tmpdir(), 'aftermile-kills-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))
const ID = '20300101-000000-aaaaaa'
const drive = smallDrive()
const review = reviewDrive(drive, {})

function fresh(word: string | null): string {
  const dataDir = mkdtempSync(join(root, 'd-'))
  if (word !== null) save(dataDir, word)
  return dataDir
}

function save(dataDir: string, word: string, notes?: string): void {
  const log = join(dataDir, 'log-1.csv')
  writeFileSync(log, `time,word\n0,${word}\n`)
  const logs = [{ path: log, name: word }]
  storeDrive(openPlace(dataDir), {
    drive,
    review,
    vehicle: {},
    logs,
    id: ID,
    title: word,
    ...(notes ? { notes } : {}),
  })
}

/** Runs one write that kills itself at a step; true where it did. */
function killedAt(step: string, ...args: string[]): boolean {
  const env = { ...process.env, AFTERMILE_KILL_AT: step }
  return spawnSync(process.execPath, ['--import', 'tsx', CHILD, ...args], { env }).signal === 'SIGKILL'
}

/** Runs one write and kills it so long after it began, ms; gives how long it went on. */
function killedAfter(ms: number, ...args: string[]): Promise<number> {
  return new Promise((done) => {
    const child = spawn(process.execPath, ['--import', 'tsx', CHILD, ...args], {
      stdio: ['ignore', 'pipe', 'ignore'],
    })
    let began = 0
    child.stdout.once('data', () => {
      began = performance.now()
      setTimeout(() => child.kill('SIGKILL'), ms)
    })
    child.once('exit', () => done(performance.now() - began))
  })
}

describe('a process killed at each step of a write', () => {
  // One child a step is slow on a loaded machine: `npm run faults` takes every step of every write, this the hard ones.
  const all = process.env.AFTERMILE_FAULTS === 'all'
  const cases = STEPS.filter((step) => step !== 'drive-gone').flatMap((step) =>
    (['save', 'replace'] as const).map((what) => ({ step, what })),
  )
  const some = cases.filter(({ step, what }) => what === 'replace' && /filled|moved|aside/.test(step))
  it.each(all ? cases : some)('$what killed at $step', { timeout: 120_000 }, ({ step, what }) => {
    const dataDir = fresh(what === 'replace' ? 'before' : null)
    expect(killedAt(step, dataDir, what, ID, 'after')).toBe(true)
    const seen = wordOf(dataDir, ID)
    expect(what === 'replace' ? ['before', 'after'] : [null, 'after']).toContain(seen)
    if (/moved|older/.test(step)) expect(seen).toBe('after')
    expect(leftovers(dataDir)).toEqual([])
    expect(wordOf(dataDir, ID)).toBe(seen)
    save(dataDir, 'again')
    expect(wordOf(dataDir, ID)).toBe('again')
  })

  it('remove killed half-way: the drive is gone, and the next opening takes the rest', {
    timeout: 120_000,
  }, () => {
    const dataDir = fresh('before')
    expect(killedAt('drive-gone', dataDir, 'remove', ID)).toBe(true)
    expect(wordOf(dataDir, ID)).toBe(null)
    expect(leftovers(dataDir)).toEqual([])
    expect(readdirSync(join(dataDir, 'drives'))).toEqual([])
  })
})

describe('an upload killed on its way', () => {
  const all = process.env.AFTERMILE_FAULTS === 'all'
  const steps = [...UPLOAD_STEPS, 'logs-copied', 'generation-filled', 'pointer-moved'] as const
  it.each(all ? steps : (['upload-arrived'] as const))('at %s', { timeout: 120_000 }, (step) => {
    const dataDir = fresh(null)
    expect(killedAt(step, dataDir, 'upload', ID, 'sent')).toBe(true)
    expect(leftovers(dataDir)).toEqual([])
    const drives = drivesIn(openPlace(dataDir))
    expect(drives).toHaveLength(step === 'pointer-moved' ? 1 : 0)
    for (const { id } of drives) expect(wordOf(dataDir, id)).toBe('sent')
  })
})

describe('a process killed at any moment', () => {
  const MOMENTS = process.env.AFTERMILE_FAULTS === 'all' ? 300 : 2
  it(`${MOMENTS} times: nothing lost, nothing half there, nothing left after the next opening`, {
    timeout: 3_600_000,
  }, async () => {
    // The longest a write takes on this machine, ms; the kill falls anywhere in one and a half times that.
    let longestMs = 40
    for (let n = 0; n < MOMENTS; n++) {
      const what = (['save', 'replace', 'remove', 'notes', 'upload'] as const)[n % 5]!
      const had = what !== 'save' && what !== 'upload'
      const dataDir = fresh(had ? 'before' : null)
      const tookMs = await killedAfter(Math.random() * 1.5 * longestMs, dataDir, what, ID, 'after')
      longestMs = Math.max(longestMs, tookMs)
      const seen = drivesIn(openPlace(dataDir)).map(({ id }) => wordOf(dataDir, id))
      const may = { save: [[], ['after']], upload: [[], ['after']], replace: [['before'], ['after']] }
      expect({ ...may, remove: [['before'], []], notes: [['before']] }[what]).toContainEqual(seen)
      expect(leftovers(dataDir)).toEqual([])
      expect(drivesIn(openPlace(dataDir)).map(({ id }) => wordOf(dataDir, id))).toEqual(seen)
      rmSync(dataDir, { recursive: true, force: true })
    }
  })
})

describe('several programs at one library', () => {
  it('two replace one drive over and over: all succeed, a reader always finds it whole', {
    timeout: 240_000,
  }, async () => {
    const dataDir = fresh('first')
    const run = (word: string) =>
      promisify(execFile)(process.execPath, ['--import', 'tsx', CHILD, dataDir, 'replace', ID, word, '4'])
    let running = true
    const both = Promise.all([run('left'), run('right')]).finally(() => {
      running = false
    })
    let looks = 0
    while (running) {
      expect(wordOf(dataDir, ID)).toMatch(/first|left|right/)
      looks++
      await new Promise((done) => setTimeout(done, 5))
    }
    await both
    expect(looks).toBeGreaterThan(0)
    expect(leftovers(dataDir)).toEqual([])
  })

  it('a lock left by a dead process keeps nobody out', () => {
    const dataDir = fresh('first')
    const dead = spawnSync(process.execPath, ['-e', '0'])
    writeFileSync(join(dataDir, 'lock'), `${hostname()} ${dead.pid} 1\n`)
    save(dataDir, 'second')
    expect(wordOf(dataDir, ID)).toBe('second')
    expect(existsSync(join(dataDir, 'lock'))).toBe(false)
  })
})

describe('what an earlier version left', () => {
  /** The drive as versions without generations stored it. */
  function oldLayout(): string {
    const dataDir = fresh('old')
    const dir = join(dataDir, 'drives', ID)
    const from = currentFolder(openPlace(dataDir), ID)!
    for (const name of readdirSync(from)) renameSync(join(from, name), join(dir, name))
    rmSync(from, { recursive: true })
    rmSync(join(dir, 'current'))
    return dataDir
  }

  it('is still read, and becomes a generation when it is replaced', () => {
    const dataDir = oldLayout()
    expect(wordOf(dataDir, ID)).toBe('old')
    recover(openPlace(dataDir))
    expect(wordOf(dataDir, ID)).toBe('old')
    save(dataDir, 'new', 'still here')
    expect(wordOf(dataDir, ID)).toBe('new')
    expect(leftovers(dataDir)).toEqual([])
    expect(showDrive(openPlace(dataDir), ID).notes).toBe('still here')
  })

  it('killed between its two renames: the drive comes back', () => {
    const dataDir = oldLayout()
    const dir = join(dataDir, 'drives', ID)
    renameSync(dir, `${dir}.old`)
    mkdirSync(`${dir}.aside`)
    recover(openPlace(dataDir))
    expect(wordOf(dataDir, ID)).toBe('old')
    expect(readdirSync(join(dataDir, 'drives'))).toEqual([ID])
  })
})

describe('damage', () => {
  const at = (dataDir: string, name: string): string => join(currentFolder(openPlace(dataDir), ID)!, name)

  it.each(['{', '', '{"version":9}', 'null'])(
    'a record that reads %j is listed, and its logs come out',
    (text) => {
      const dataDir = fresh('word')
      writeFileSync(at(dataDir, 'drive.json'), text)
      const place = openPlace(dataDir)
      const [listed] = drivesIn(place)
      expect(listed).toMatchObject({ id: ID, trouble: expect.stringContaining('logs can still be exported') })
      if (text.includes('9')) expect(listed!.trouble).toContain('newer version')
      expect(() => showDrive(place, ID)).toThrow('logs can still be exported')
      const out = join(root, `out-${Math.random()}`)
      expect(exportDrive(place, ID, out).length).toBeGreaterThan(0)
      removeDrive(place, ID)
      expect(drivesIn(place)).toEqual([])
    },
  )

  it('lost notes, vehicle file and review leave a drive that can be read, and are told', () => {
    const dataDir = fresh('word')
    const place = openPlace(dataDir)
    writeFileSync(at(dataDir, 'review.json'), '{"schema":2')
    writeFileSync(at(dataDir, 'vehicle.json'), '\0\0')
    rmSync(join(dataDir, 'drives', ID, 'notes.json'))
    const shown = showDrive(place, ID)
    expect(shown.troubles).toHaveLength(3)
    expect(shown.review.findings).toEqual(review.findings)
  })

  it('samples that were cut off are told in a sentence without a path', () => {
    const dataDir = fresh('word')
    writeFileSync(at(dataDir, 'channels.json'), '{')
    writeFileSync(at(dataDir, 'review.json'), '{')
    expect(() => showDrive(openPlace(dataDir), ID)).toThrow('damaged')
  })

  it('folders are their owner’s alone', () => {
    const dataDir = fresh('word')
    for (const path of [join(dataDir, 'drives'), join(dataDir, 'drives', ID), at(dataDir, '.')])
      expect(statSync(path).mode & 0o077).toBe(0)
  })
})
