import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { request } from 'node:http'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { driveAnswerSchema, drivesSchema, type Job, jobSchema, tableSchema } from '../../shared/api.ts'
import { currentFolder } from '../../src/library/generations.ts'
import { openPlace } from '../../src/library/place.ts'
import { answerOf, REFUSALS, Refusal } from '../../src/server/errors.ts'
import { serve } from '../../src/server/listen.ts'
import { decodeWindow } from '../../web/api.ts'
import { serveForTest, type TestServing } from '../helpers/serving.ts'

let serving: TestServing
let driveId: string
beforeAll(async () => {
  serving = await serveForTest()
  driveId = (await upload([['road.csv', 'log', LOG]])).drive_id!
})
afterAll(() => serving.close())

/** A minute at 10 Hz: three cells, current, a spike of one sample. */
const LOG = Buffer.from(
  [
    'Time [s],Pack current [A],Cell 1 voltage [V],Cell 2 voltage [V],Cell 3 voltage [V],Zeta 7',
    ...Array.from({ length: 600 }, (_, i) => {
      const a = i === 300 ? 250 : 40 + 30 * Math.sin(i / 20)
      return `${(i / 10).toFixed(1)},${a.toFixed(2)},${(3.9 - a / 1000).toFixed(4)},${(3.9 - a / 1000).toFixed(4)},${(3.9 - a / 900).toFixed(4)},${i}`
    }),
  ].join('\n'),
)

async function ask(path: string, options: RequestInit = {}) {
  const response = await fetch(new URL(path, serving.url), options)
  const text = await response.text()
  return { status: response.status, headers: response.headers, text, json: () => JSON.parse(text) }
}

const sending = (method: string, body: unknown): RequestInit => ({
  method,
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
})

async function settle(job: Job): Promise<Job> {
  let now = job
  while (now.state === 'working') {
    await new Promise((done) => setTimeout(done, 20))
    now = (await ask(`api/imports/${job.id}`)).json()
  }
  return now
}

async function upload(
  files: readonly (readonly [name: string, role: string, bytes: Buffer])[],
): Promise<Job> {
  const announced = files.map(([name, role, bytes]) => ({ name, role, bytes: bytes.length }))
  const job = (await ask('api/imports', sending('POST', { files: announced }))).json()
  for (const [at, [, , bytes]] of files.entries())
    await ask(`api/imports/${job.id}/files/${at}`, { method: 'PUT', body: new Uint8Array(bytes) })
  return settle((await ask(`api/imports/${job.id}/start`, { method: 'POST' })).json())
}

/** A request whose Host and path are sent as given, which fetch would put right. */
function raw(path: string, headers: Record<string, string>, method = 'GET'): Promise<number> {
  const { port } = new URL(serving.url)
  return new Promise((resolve, reject) => {
    const asked = request({ host: '127.0.0.1', port, path, method, headers }, (response) => {
      response.resume()
      resolve(response.statusCode!)
    })
    asked.on('error', reject)
    asked.end()
  })
}

describe('who may ask', () => {
  it('listens on loopback only', () => {
    expect(new URL(serving.url).hostname).toBe('127.0.0.1')
  })

  it('answers its own names only (a name that resolves to 127.0.0.1 is refused)', async () => {
    const { port } = new URL(serving.url)
    expect(await raw('/api/drives', { host: `localhost:${port}` })).toBe(200)
    expect(await raw('/api/drives', { host: `rebound.example:${port}` })).toBe(421)
    expect(await raw('/', { host: `rebound.example:${port}` })).toBe(421)
    expect(await raw('/api/drives', { host: '127.0.0.1:1' })).toBe(421)
    expect(await raw('/api/drives', { host: '127.0.0.1' })).toBe(421)
  })

  it('refuses other pages by Origin and by Sec-Fetch-Site', async () => {
    const own = new URL(serving.url).origin
    const status = async (headers: Record<string, string>, method = 'GET') =>
      raw('/api/drives', { host: new URL(serving.url).host, ...headers }, method)
    expect(await status({ origin: own })).toBe(200)
    expect(await status({ origin: 'http://elsewhere.example' })).toBe(403)
    expect(await status({ origin: 'null' })).toBe(403)
    expect(await status({ origin: own.replace('http:', 'https:') })).toBe(403)
    expect(await status({ origin: own.replace(/:\d+$/, ':1') })).toBe(403)
    expect(await status({ 'sec-fetch-site': 'cross-site' })).toBe(403)
    expect(await status({ 'sec-fetch-site': 'same-site' })).toBe(403)
    expect(await status({ 'sec-fetch-site': 'same-origin' })).toBe(200)
  })

  it('says in its headers that nothing else may run, frame or read the page', async () => {
    const { headers } = await ask('api/drives')
    expect(headers.get('content-security-policy')).toMatch(/default-src 'none'.*script-src 'self'/)
    expect(headers.get('content-security-policy')).not.toMatch(/unsafe|https?:/)
    expect(headers.get('x-content-type-options')).toBe('nosniff')
    expect(headers.get('cross-origin-resource-policy')).toBe('same-origin')
    expect(headers.get('cache-control')).toBe('no-store')
    expect(headers.get('x-powered-by')).toBeNull()
    expect(headers.get('access-control-allow-origin')).toBeNull()
  })

  it('makes no path of what is asked', async () => {
    const host = new URL(serving.url).host
    for (const path of [
      '/api/drives/..%2f..%2fetc%2fpasswd',
      '/api/drives/../../etc/passwd',
      '/api/drives/%2e%2e',
      '/..%2f..%2fpackage.json',
      '/../../package.json',
      '/assets/..%2f..%2f..%2fpackage.json',
      '/%2e%2e/%2e%2e/package.json',
      '/api/samples/..%2f..%2fsrc/open',
      `/api/drives/${driveId}%00/report`,
      `/api/drives/${driveId}/tables/..%2f..%2fdrive.json`,
    ])
      expect(await raw(path, { host }), path).toBeGreaterThanOrEqual(400)
    expect(await raw(`/api/drives/${encodeURIComponent(`../drives/${driveId}`)}`, { host })).toBe(404)
  })
})

describe('importing', () => {
  it('stores the log byte for byte under a name of its own', async () => {
    const shown = driveAnswerSchema.parse((await ask(`api/drives/${driveId}`)).json())
    expect(shown.review.drive.files[0]).toMatchObject({
      name: 'road.csv',
      sha256: createHash('sha256').update(LOG).digest('hex'),
    })
    const kept = join(currentFolder(openPlace(serving.dataDir), driveId)!, 'logs', '1')
    expect(readFileSync(kept).equals(LOG)).toBe(true)
    expect(readdirSync(join(serving.dataDir, 'incoming'))).toEqual([])
    expect(drivesSchema.parse((await ask('api/drives')).json())[0]!.id).toBe(driveId)
  })

  it('takes names as names: folders in them lead nowhere', async () => {
    const job = await upload([['../../../evil.csv', 'log', LOG]])
    expect(job.state).toBe('done')
    expect(existsSync(join(serving.dataDir, '..', 'evil.csv'))).toBe(false)
    await ask(`api/drives/${job.drive_id}`, { method: 'DELETE' })
    expect((await ask(`api/drives/${job.drive_id}`)).status).toBe(404)
  })

  it('takes gzip, a vehicle file, and says in one sentence what is wrong with either', async () => {
    const vehicle = Buffer.from(JSON.stringify({ name: 'Sorrel', pack: { cells: 3 } }))
    const good = await upload([
      ['road.csv.gz', 'log', gzipSync(LOG)],
      ['vehicle.json', 'vehicle', vehicle],
    ])
    expect(good).toMatchObject({ state: 'done', share: 1 })
    expect((await ask(`api/drives/${good.drive_id}`)).json().summary.car).toBe('Sorrel')
    await ask(`api/drives/${good.drive_id}`, { method: 'DELETE' })
    const bad = await upload([
      ['road.csv', 'log', LOG],
      ['vehicle.json', 'vehicle', Buffer.from('{"pack":{"cells":"many"}}')],
    ])
    expect(bad.state).toBe('failed')
    expect(bad.error).toContain('vehicle.json: field pack.cells')
    const empty = await upload([['empty.csv', 'log', Buffer.alloc(0)]])
    expect(empty.state).toBe('failed')
    expect(empty.error).toMatch(/^empty\.csv: .*empty/)
    expect(readdirSync(join(serving.dataDir, 'incoming'))).toEqual([])
  })

  it('a capture without a signal table: what was seen on its bus, and a table that reads it as it is', async () => {
    const rows = Array.from(
      { length: 200 },
      (_, i) => `${i / 100};0x${i % 4 ? 123 : 456};2;0A ${16 + (i % 80)}`,
    )
    const bus = Buffer.from(['Time [s];ID;DLC;Data', ...rows].join('\n'))
    const failed = await upload([['bus.csv', 'log', bus]])
    expect(failed).toMatchObject({ state: 'failed', wants_signals: { log: 'bus.csv' } })
    const { frames, template } = jobSchema.parse(failed).wants_signals!
    expect(
      frames.map(({ identifier, count, changing_bytes }) => [identifier, count, changing_bytes]),
    ).toEqual([
      ['0x123', 150, [1]],
      ['0x456', 50, [1]],
    ])
    const filled = await upload([
      ['bus.csv', 'log', bus],
      ['signals.json', 'signals', Buffer.from(JSON.stringify(template))],
    ])
    expect(filled.state).toBe('done')
    await ask(`api/drives/${filled.drive_id}`, { method: 'DELETE' })
  })

  it('refuses more than its limit, bytes beyond what was announced, and a start before all is there', async () => {
    const tooMuch = { files: [{ name: 'big.csv', role: 'log', bytes: 2 ** 40 }] }
    expect((await ask('api/imports', sending('POST', tooMuch))).status).toBe(413)
    const job = (
      await ask('api/imports', sending('POST', { files: [{ name: 'a.csv', role: 'log', bytes: 10 }] }))
    ).json()
    const put = await ask(`api/imports/${job.id}/files/0`, { method: 'PUT', body: new Uint8Array(LOG) })
    expect(put.status).toBe(400)
    expect(put.json().error.code).toBe('wrong-length')
    expect((await ask(`api/imports/${job.id}/start`, { method: 'POST' })).status).toBe(400)
    const none = { files: [{ name: 'v.json', role: 'vehicle', bytes: 10 }] }
    expect((await ask('api/imports', sending('POST', none))).json().error.code).toBe('no-log')
    expect((await ask('api/imports', sending('POST', { files: [] }))).status).toBe(400)
    expect((await ask(`api/imports/${job.id}/files/7`, { method: 'PUT', body: 'x' })).status).toBe(404)
    expect((await ask('api/imports/nothing', {})).status).toBe(404)
  })
})

describe('a stored drive', () => {
  it('gives a window whose spike is there however few points are asked for', async () => {
    const path = `api/drives/${driveId}/window?from=0&to=60&buckets=50&channel=pack_current&channel=cell_voltage.3`
    const response = await fetch(new URL(path, serving.url))
    const points = decodeWindow(await response.arrayBuffer())
    const current = points.get('pack_current')!
    expect(Math.max(...current.values)).toBe(250)
    expect(current.thinned).toBe(true)
    expect(current.timeS.length).toBeLessThan(250)
    expect(points.get('cell_voltage.3')!.timeS.length).toBeGreaterThan(50)
  })

  it('gives values at a moment, figures of a stretch and pairs', async () => {
    const moment = (await ask(`api/drives/${driveId}/moment?at=30.05&channel=pack_current`)).json()
    expect(moment.values.pack_current).toBe(250)
    const [measure] = (
      await ask(`api/drives/${driveId}/measure?from=29.95&to=30.05&channel=pack_current`)
    ).json()
    expect(measure).toMatchObject({ samples: 1, mean: 250, min: 250, max: 250, integral: null })
    const pairs = (
      await ask(`api/drives/${driveId}/pairs?x=pack_current&y=cell_voltage.3&from=0&to=60&minus=median-cell`)
    ).json()
    expect(pairs.samples).toBe(600)
    expect(pairs.count.reduce((a: number, b: number) => a + b, 0)).toBe(600)
  })

  it('refuses what it cannot answer, each with its sentence', async () => {
    const refusals: [string, number, string][] = [
      [`api/drives/${driveId}/window?from=0&to=60&channel=nothing`, 404, 'no-such-channel'],
      [`api/drives/${driveId}/window?from=60&to=0&channel=pack_current`, 400, 'bad-request'],
      [`api/drives/${driveId}/window?from=zero&to=1&channel=pack_current`, 400, 'bad-request'],
      [`api/drives/${driveId}/tables/secrets`, 404, 'no-such-table'],
      [`api/drives/20300101-000000-aaaaaa`, 404, 'no-such-drive'],
      ['api/nothing', 404, 'no-such-place'],
      ['api/samples/nothing/open', 404, 'no-such-place'],
    ]
    for (const [path, status, code] of refusals) {
      const answer = await ask(path)
      expect([path, answer.status, answer.json().error.code]).toEqual([path, status, code])
    }
    const replay = { map: { start_bar: 1, full_bar: 2, max_nm: 3, fade_kmh: [0, 1] } }
    expect((await ask(`api/drives/${driveId}/replay`, sending('POST', replay))).status).toBe(409)
    expect((await ask(`api/drives/${driveId}/replay`, sending('POST', {}))).status).toBe(400)
    expect((await ask('api/samples/nothing/open', { method: 'POST' })).json().error.code).toBe(
      'no-such-sample',
    )
  })

  it('is read again with a correction, which is remembered for the next log of that layout', async () => {
    const corrections = { 'Zeta 7': { channel: 'brake_pressure', unit: 'kPa' } }
    const job = (
      await ask(`api/drives/${driveId}/revise`, sending('POST', { corrections, remember: true }))
    ).json()
    expect(await settle(job)).toMatchObject({ state: 'done', drive_id: driveId })
    const named = (answer: { review: { channels: { from: string; id: string }[] } }) =>
      answer.review.channels.find(({ from }) => from.endsWith('Zeta 7'))?.id
    expect(named((await ask(`api/drives/${driveId}`)).json())).toBe('brake_pressure')
    const next = await upload([['next.csv', 'log', LOG]])
    expect(named((await ask(`api/drives/${next.drive_id}`)).json())).toBe('brake_pressure')
    await ask(`api/drives/${next.drive_id}`, { method: 'DELETE' })
  })

  it('puts a second log where a person says, and keeps it there through the next review', async () => {
    const row = (at: number, v: number) => `${at.toFixed(1)},${v}`
    const log = (name: string, from: number) =>
      Buffer.from(
        [`Time [s],${name}`, ...Array.from({ length: 60 }, (_, i) => row(from + i / 2, (i * 7) % 5))].join(
          '\n',
        ),
      )
    const job = await upload([
      ['one.csv', 'log', log('Zeta', 0)],
      ['two.csv', 'log', log('Eta', 0)],
    ])
    const id = job.drive_id!
    const clocks = async () =>
      (await ask(`api/drives/${id}`))
        .json()
        .review.drive.files.map(({ clock }: { clock: { offset_s: number } }) => clock.offset_s)
    const revise = async (wish: object) =>
      settle((await ask(`api/drives/${id}/revise`, sending('POST', wish))).json())
    expect(await revise({ offsets: [12.5] })).toMatchObject({ state: 'done' })
    expect(await clocks()).toEqual([0, 12.5])
    expect(await revise({ vehicle: { name: 'Teasel' } })).toMatchObject({ state: 'done' })
    expect(await clocks()).toEqual([0, 12.5])
    expect((await ask(`api/drives/${id}`)).json().offsets).toEqual([12.5])
    await ask(`api/drives/${id}`, { method: 'DELETE' })
  })

  it('keeps notes, prints them, and runs nothing that stands in them', async () => {
    const notes = '<script>alert(1)</script> Joint opened & cleaned.'
    await ask(`api/drives/${driveId}/notes`, sending('PUT', { notes, title: '<b>Teasel</b>' }))
    const report = await ask(`api/drives/${driveId}/report`)
    expect(report.text).toContain('Joint opened &#38; cleaned.')
    expect(report.text).not.toContain('<script>')
    expect(report.text).not.toContain('<b>Teasel')
    expect(report.headers.get('content-security-policy')).not.toContain('script-src')
  })

  it('opens a sample once: asked again, the stored one is shown', async () => {
    const open = async () => settle((await ask('api/samples/sorrel/open', { method: 'POST' })).json())
    const first = await open()
    expect(first.state).toBe('done')
    expect((await open()).drive_id).toBe(first.drive_id)
    await ask(`api/drives/${first.drive_id}`, { method: 'DELETE' })
  })

  it('gives tables, and as CSV', async () => {
    const table = tableSchema.parse(
      (await ask(`api/drives/${driveId}/tables/cells?sort=index&falling=1`)).json(),
    )
    expect(table.name).toBe('cells')
    const csv = await ask(`api/drives/${driveId}/tables/cells/csv`)
    expect(csv.headers.get('content-type')).toContain('text/csv')
    expect(csv.text.split('\r\n')[0]).toContain('Cell,Module')
  })
})

describe('refusals', () => {
  it('each have a status and a sentence, and others say nothing of their insides', () => {
    for (const [code, [status, sentence]] of Object.entries(REFUSALS)) {
      const answer = answerOf(new Refusal(code as keyof typeof REFUSALS))
      expect(answer).toEqual({ status, code, sentence })
      expect(sentence).toMatch(/^[A-Z].*\.$/)
    }
    expect(answerOf(new Error('/home/secret: no'))).toMatchObject({ status: 500, code: 'failed' })
    expect(JSON.stringify(answerOf(new Error('/home/secret: no')))).not.toContain('secret')
  })
})

describe('serve', () => {
  it('takes the next port where the first is taken', async () => {
    const { port } = new URL(serving.url)
    const other = await serve({ dataDir: serving.dataDir, port: Number(port) })
    expect(Number(new URL(other.url).port)).toBeGreaterThan(Number(port))
    await other.close()
  })
})

describe('a drive in one file', () => {
  it('is taken away, and opened again as the same drive with its vehicle file', async () => {
    const vehicle = Buffer.from(JSON.stringify({ name: 'Sorrel', record: { customer: 'A. Customer' } }))
    const sent = (
      await upload([
        ['road.csv', 'log', LOG],
        ['car.json', 'vehicle', vehicle],
      ])
    ).drive_id!
    const answer = await fetch(new URL(`api/drives/${sent}/file`, serving.url))
    expect(answer.headers.get('content-disposition')).toContain('.parquet')
    const bytes = Buffer.from(await answer.arrayBuffer())
    expect(bytes.includes('Customer')).toBe(false)
    const back = (await upload([['drive.parquet', 'log', bytes]])).drive_id!
    const [was, is] = await Promise.all(
      [sent, back].map(async (id) => driveAnswerSchema.parse((await ask(`api/drives/${id}`)).json())),
    )
    expect(is!.vehicle).toEqual({ name: 'Sorrel' })
    expect(is!.review.findings).toEqual(was!.review.findings)
    expect(is!.review.channels).toEqual(was!.review.channels)
    expect(is!.review.drive).toEqual(was!.review.drive)
  })
})
