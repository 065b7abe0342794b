import { execFileSync } from 'node:child_process'
import { linkSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, tmpdir } from 'node:os'
import { join } from 'node:path'
import { currentFolder } from '../../src/library/generations.ts'
import { showDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { simulate } from '../simulator/simulate.ts'

/**
 * A library of 10 000 drives: list, search, opening, and making the index again, each in a process of its own, from the
 * project's build (`npm run build:src` first).
 *
 *     npm run bench:library -- [drives, default 10000] [--keep=FOLDER]
 *
 * Drives: one whole review of a simulated drive of 96 cells, written anew under 40 cars, 5 kits, two years and changing
 * findings; logs and samples, which no list reads, are hard links to the first drive's. Goals (issue 16): list and search
 * under 200 ms, opening under 1 s, index made again in under 60 s.
 */
const drives = Number(process.argv.slice(2).find((each) => /^\d+$/.test(each)) ?? 10_000)
const keep = process.argv.find((each) => each.startsWith('--keep='))?.slice(7)
const ROOT = join(import.meta.dirname, '../..')
const KINDS = [
  'joint-resistance-high/joint-41',
  'cell-weak/cell-7',
  'isolation-low/isolation',
  'no-drive/start-step-precharge',
]

function build(dataDir: string): void {
  const made = simulate({ seed: 31, car: { name: 'Juniper' }, route: { kind: 'mixed', durationS: 300 } })
  const review = reviewDrive(made.drive, made.vehicle)
  const place = openPlace(dataDir)
  const log = join(dataDir, 'a.csv')
  writeFileSync(log, 'time,current\n0,1\n')
  const { id } = storeDrive(place, {
    ...{ drive: made.drive, review, vehicle: made.vehicle },
    logs: [{ path: log, name: 'a.csv' }],
    id: '20290101-000000-000000',
  })
  const from = currentFolder(place, id)!
  const stored = JSON.parse(readFileSync(join(from, 'drive.json'), 'utf8'))
  const text = readFileSync(join(from, 'review.json'))
  const notes = readFileSync(join(from, '..', 'notes.json'))
  for (let n = 1; n < drives; n++) {
    const day = new Date(Date.UTC(2029, 0, 2) + n * 6_000_000)
    const own = `${day.toISOString().replace(/[-:]/g, '').replace('T', '-').slice(0, 15)}-${n.toString(16).padStart(6, '0')}`
    const car = `Juniper ${1 + (n % 40)}`
    const folder = join(dataDir, 'drives', own, 'g-0123456789abcdef')
    mkdirSync(folder, { recursive: true })
    const summary = {
      ...stored.summary,
      ...{ id: own, title: `${car}, ${day.toISOString().slice(0, 10)}`, car, kit: `Kit ${n % 5}` },
      ...{ added_at: day.toISOString(), started_at: day.toISOString() },
      files: [{ name: `drive-${n}.csv`, sha256: n.toString(16).padStart(64, '0') }],
      found: [...stored.summary.found, ...(n % 50 === 0 ? [`stop ${KINDS[(n / 50) % 4]}`] : [])],
    }
    writeFileSync(join(folder, 'drive.json'), `${JSON.stringify({ ...stored, summary }, null, 1)}\n`)
    writeFileSync(join(folder, 'review.json'), text)
    for (const sub of ['logs', 'time', 'values', 'pyramid', 'fresh']) {
      mkdirSync(join(folder, sub))
      for (const name of readdirSync(join(from, sub)).slice(0, 3))
        linkSync(join(from, sub, name), join(folder, sub, name))
    }
    for (const name of ['vehicle.json', 'corrections.json', 'channels.json'])
      linkSync(join(from, name), join(folder, name))
    writeFileSync(join(folder, '..', 'notes.json'), notes)
    writeFileSync(join(folder, '..', 'current'), 'g-0123456789abcdef\n')
  }
  console.log(`${drives} drives; a review of ${(text.length / 1024).toFixed(0)} KiB each`)
  showDrive(place, id)
}

/** In a fresh process: opens the place, lists, searches, opens one drive; milliseconds of each. */
const ONCE = `
import { performance } from 'node:perf_hooks'
const [, , dir, what] = process.argv
const load = performance.now()
const { openPlace } = await import('${ROOT}/dist/src/library/place.js')
const { drivesIn, showDrive } = await import('${ROOT}/dist/src/library/library.js')
const { searchDrives } = await import('${ROOT}/dist/src/library/search.js')
const { forgetIndex } = await import('${ROOT}/dist/src/library/drive-index.js')
const told = { code: [performance.now() - load, 0] }
const timed = (name, work) => {
  const [from, cpu] = [performance.now(), process.cpuUsage()]
  const made = work()
  const { user, system } = process.cpuUsage(cpu)
  told[name] = [performance.now() - from, (user + system) / 1000]
  return made
}
if (what === 'rebuild') forgetIndex({ dataDir: dir })
const place = timed('opening', () => openPlace(dir))
const all = timed('first list', () => drivesIn(place))
timed('list again', () => drivesIn(place))
const search = { finding: 'joint-41', kit: 'Kit 0', from: '2029-06-01', to: '2030-06-01', text: 'juniper' }
const hits = timed('search', () => searchDrives(drivesIn(place), search))
timed('one drive shown', () => showDrive(place, all[all.length >> 1].id))
console.log(JSON.stringify({ told, drives: all.length, hits: hits.length }))
`

const dataDir = keep ?? mkdtempSync(join(tmpdir(), 'aftermile-many-'))
try {
  if (!readdirSync(dataDir).includes('drives')) build(dataDir)
  const script = join(dataDir, 'once.mjs')
  writeFileSync(script, ONCE)
  const run = (what: string) => {
    const { told, drives, hits } = JSON.parse(
      execFileSync(process.execPath, [script, dataDir, what], { encoding: 'utf8' }),
    ) as { told: Record<string, [number, number]>; drives: number; hits: number }
    const times = Object.entries(told).map(
      ([name, [wall, cpu]]) => `${name} ${wall.toFixed(0)} ms (${cpu.toFixed(0)} cpu)`,
    )
    console.log(`${what}: ${times.join(', ')}; ${hits} of ${drives} found`)
  }
  console.log(`${cpus()[0]?.model}, ${cpus().length} cores, Node ${process.version}`)
  run('rebuild')
  for (let round = 0; round < 3; round++) run('fresh process')
} finally {
  if (!keep) rmSync(dataDir, { recursive: true, force: true })
}
