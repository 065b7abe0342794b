import {
  appendFileSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  utimesSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { forgetIndex, indexedDrives } from '../../src/library/drive-index.ts'
import { currentFolder } from '../../src/library/generations.ts'
import { annotateDrive, drivesIn, removeDrive } from '../../src/library/library.ts'
import { openPlace, type Place } from '../../src/library/place.ts'
import { searchDrives } from '../../src/library/search.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-index-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))
const log = join(dir, 'a.csv')
writeFileSync(log, 'time,current\n0,1\n')
const drive = smallDrive()
const review = reviewDrive(drive, {})

const named = (at: number) => review.drive.files.map((each) => ({ ...each, name: `log-${at}.csv` }))

/** Three drives of two cars, stored long enough ago to be settled. */
function filled(): { place: Place; ids: string[] } {
  const place = openPlace(mkdtempSync(join(dir, 'd-')))
  const ids = ['20300101-000000-aaaaaa', '20300102-000000-bbbbbb', '20300103-000000-cccccc']
  ids.forEach((id, at) => {
    const startedAt = `2030-01-0${at + 1}T08:00:00Z`
    storeDrive(place, {
      drive,
      review: { ...review, drive: { ...review.drive, started_at: startedAt, files: named(at) } },
      logs: [{ path: log, name: `log-${at}.csv` }],
      vehicle: { name: at === 0 ? 'Teasel' : 'Sorrel', ...(at === 2 ? { kit: 'Hedge' } : {}) },
      id,
    })
    settle(place, id)
  })
  return { place, ids: ids.reverse() }
}

function settle(place: Place, id: string): void {
  const past = new Date(Date.now() - 60_000)
  const folder = currentFolder(place, id)!
  for (const path of [join(folder, 'drive.json'), join(folder, '..')]) utimesSync(path, past, past)
}

const lines = (place: Place): string[] =>
  readFileSync(join(place.dataDir, 'index.ndjson'), 'utf8')
    .split('\n')
    .filter((line) => line.startsWith('{"id"'))

/** Which drives a new list has to open. */
function opened(place: Place): string[] {
  const read: string[] = []
  indexedDrives(place, (id) => {
    read.push(id)
    return null
  })
  return read
}

describe('the index of stored drives', () => {
  it('lists without opening what has not changed, and reads again what has', () => {
    const { place, ids } = filled()
    const plain = drivesIn(place)
    expect(plain.map(({ id }) => id)).toEqual(ids)
    expect(lines(place)).toHaveLength(3)
    expect(opened(place)).toEqual([])
    annotateDrive(place, ids[1]!, 'looked at', 'Another title')
    expect(drivesIn(place).map(({ title }) => title)).toContain('Another title')
    settle(place, ids[1]!)
    drivesIn(place)
    expect(opened(place)).toEqual([])
    // behind the program's back: seen by whoever opens the library anew
    writeFileSync(join(currentFolder(place, ids[0]!)!, 'drive.json'), '{')
    forgetIndex(place)
    expect(drivesIn(place)[0]!.trouble).toMatch(/damaged/)
    removeDrive(place, ids[0]!)
    expect(drivesIn(place).map(({ id }) => id)).toEqual(ids.slice(1))
  })

  it('can be made again from the drives, whatever became of the file', () => {
    const { place } = filled()
    const plain = drivesIn(place)
    const path = join(place.dataDir, 'index.ndjson')
    for (const damage of [
      () => rmSync(path),
      () => writeFileSync(path, 'nothing of the kind'),
      () => writeFileSync(path, readFileSync(path, 'utf8').slice(0, -200)),
      () => appendFileSync(path, '{"id":"20300101-000000-aaaaaa","summary":{"title":5}}\n{"id":'),
    ]) {
      damage()
      const bytes = readdirSync(place.dataDir).includes('index.ndjson') ? readFileSync(path) : null
      forgetIndex(place)
      if (bytes) writeFileSync(path, bytes)
      expect(drivesIn(place)).toEqual(plain)
    }
  })

  it('finds by car, kit, day, finding, verdict and words', () => {
    const { place, ids } = filled()
    const all = drivesIn(place)
    const found = (search: Parameters<typeof searchDrives>[1]) =>
      searchDrives(all, search).map(({ id }) => id)
    expect(found({ car: 'sorrel' })).toEqual(ids.slice(0, 2))
    expect(found({ kit: 'Hedge' })).toEqual([ids[0]])
    expect(found({ from: '2030-01-02', to: '2030-01-02' })).toEqual([ids[1]])
    expect(found({ verdict: review.verdict.state })).toEqual(ids)
    expect(found({ verdict: 'cannot-drive' })).toEqual([])
    expect(found({ text: 'log-2 sorrel' })).toEqual([ids[0]])
    expect(review.findings.length).toBeGreaterThan(0)
    expect(found({ finding: review.findings[0]!.kind })).toEqual(ids)
    expect(found({ finding: 'no-such' })).toEqual([])
    expect(() => found({ from: 'May' })).toThrow(/YYYY-MM-DD/)
    expect(() => found({ verdict: 'fine' })).toThrow(/cannot-drive/)
  })
})
