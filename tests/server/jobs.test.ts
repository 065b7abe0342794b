import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { afterAll, expect, it } from 'vitest'
import { openPlace } from '../../src/library/place.ts'
import { recover } from '../../src/library/recover.ts'
import { Jobs, type RunImport } from '../../src/server/jobs.ts'

const dir = mkdtempSync(join(tmpdir(), 'aftermile-jobs-'))
afterAll(() => rmSync(dir, { recursive: true, force: true }))

const FILE = { name: 'a.csv', role: 'log' as const, bytes: 3 }
/** An import of `stuck.csv` never ends and takes no notice; one of `dies.csv` fails; any other is done at once. */
const run: RunImport = (task) => {
  const { name } = task.logs[0]!
  if (name === 'stuck.csv') return new Promise(() => {})
  return name === 'dies.csv'
    ? Promise.reject(new Error('worker died'))
    : Promise.resolve('20300101-000000-aaaaaa')
}

function jobsAt(): { jobs: Jobs; incoming: string; place: ReturnType<typeof openPlace> } {
  const place = openPlace(mkdtempSync(join(dir, 'd-')))
  return { jobs: new Jobs(place, run, 1000, () => {}, 100), incoming: join(place.dataDir, 'incoming'), place }
}
const task = (name: string) => ({ dataDir: dir, logs: [{ path: '/nowhere', name }], vehicle: {} })
const soon = () => new Promise((done) => setTimeout(done, 20))

it('a stuck and a dying import hold no other, and the stuck one is cancelled at once', async () => {
  const { jobs } = jobsAt()
  const stuck = jobs.run(task('stuck.csv'))
  const dies = jobs.run(task('dies.csv'))
  const good = jobs.run(task('good.csv'))
  await expect.poll(() => jobs.get(good.id).state, { timeout: 10_000 }).toBe('done')
  await expect.poll(() => jobs.get(dies.id).state, { timeout: 10_000 }).toBe('failed')
  expect(jobs.get(stuck.id).state).toBe('working')
  expect(await jobs.cancel(stuck.id)).toMatchObject({ state: 'failed', error: 'The import was cancelled.' })
  await jobs.idle()
  expect(await jobs.cancel(good.id)).toMatchObject({ state: 'done' })
})

it('three stuck imports hold no fourth: what says nothing gives its place up', async () => {
  const { jobs } = jobsAt()
  const stuck = ['stuck.csv', 'stuck.csv', 'stuck.csv'].map((name) => jobs.run(task(name)))
  const good = jobs.run(task('good.csv'))
  await soon()
  expect(jobs.get(good.id).state).toBe('working')
  await expect.poll(() => jobs.get(good.id).state, { timeout: 10_000 }).toBe('done')
  for (const { id } of stuck) expect(jobs.get(id).state).toBe('working')
  for (const { id } of stuck) await jobs.cancel(id)
  await jobs.idle()
})

it('who watches an import hears of each change and of its end', async () => {
  const { jobs } = jobsAt()
  const { id } = jobs.run(task('dies.csv'))
  const seen: string[] = []
  const quiet = jobs.watch(id, (job) => seen.push(job.state))
  await expect.poll(() => seen.at(-1), { timeout: 10_000 }).toBe('failed')
  quiet()
  await jobs.idle()
})

it('cancelled while it waits its turn, it never runs', async () => {
  const { jobs } = jobsAt()
  const stuck = ['stuck.csv', 'stuck.csv', 'stuck.csv'].map((name) => jobs.run(task(name)))
  const waits = jobs.run(task('good.csv'))
  await soon()
  expect(jobs.get(waits.id).state).toBe('working')
  await jobs.cancel(waits.id)
  for (const { id } of stuck) await jobs.cancel(id)
  await jobs.idle()
  expect(jobs.get(waits.id)).toMatchObject({ state: 'failed', drive_id: null })
})

it('an upload that was cancelled, or never started, leaves nothing', async () => {
  const { jobs, incoming, place } = jobsAt()
  const first = await jobs.announce({ files: [FILE] })
  await jobs.receive(first.id, 0, Readable.from([Buffer.from('abc')]))
  expect(existsSync(join(incoming, first.id, '1'))).toBe(true)
  await jobs.cancel(first.id)
  const second = await jobs.announce({ files: [FILE] })
  // A living process still waits for the files of the second: another program's opening leaves them.
  recover(place)
  expect(readdirSync(incoming)).toEqual([second.id])
  await jobs.idle()
  expect(readdirSync(incoming)).toEqual([])
})
