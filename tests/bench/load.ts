/**
 * `npm run bench:load -- [--gb 2] [--seconds 60]`: the page's requests while a log of 2 GB is being sent and imported and
 * another import is stuck; then how long cancelling both takes. Prints medians and 99th percentiles; asserts nothing.
 */
import { createReadStream, createWriteStream, mkdirSync, mkdtempSync, rmSync, statSync } from 'node:fs'
import { createServer, request } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { finished } from 'node:stream/promises'
import { parseArgs } from 'node:util'
import { Worker } from 'node:worker_threads'
import type { Job } from '../../shared/api.ts'
import type { RunImport } from '../../src/server/jobs.ts'

const { values } = parseArgs({ options: { gb: { type: 'string' }, seconds: { type: 'string' } } })
const bytes = Number(values.gb ?? 2) * 1e9
const forMs = Number(values.seconds ?? 60) * 1000
const dist = join(import.meta.dirname, '../../dist')
// Workers run from the build only, so the server is taken from there: npm run build first.
const { createApp } = (await import(
  join(dist, 'src/server/app.js')
)) as typeof import('../../src/server/app.ts')
const { openPlace } = (await import(
  join(dist, 'src/library/place.js')
)) as typeof import('../../src/library/place.ts')
const { importInWorker } = (await import(
  join(dist, 'src/library/import-worker.js')
)) as typeof import('../../src/library/import-worker.ts')

const dir = mkdtempSync(join(tmpdir(), 'aftermile-load-'))
const big = join(dir, 'big.csv')
await writeBig(big)

/** `stuck.csv` computes for ever in a worker of its own; any other log is imported as the program does. */
const runImport: RunImport = (task, progress, stop) => {
  if (task.logs[0]!.name !== 'stuck.csv') return importInWorker(task, progress, stop)
  const worker = new Worker('for (;;);', { eval: true })
  return new Promise((_, reject) => {
    stop.addEventListener('abort', () => {
      reject(stop.reason)
      void worker.terminate()
    })
  })
}

const place = openPlace(join(dir, 'data'))
const app = createApp({
  place,
  webDir: join(dist, 'web'),
  samplesDir: join(import.meta.dirname, '../../sample-logs'),
  runImport,
  version: '0',
})
const server = createServer(app.express)
server.requestTimeout = 0
await new Promise<void>((done) => server.listen(0, '127.0.0.1', done))
const { port } = server.address() as AddressInfo
const at = (path: string) => `http://127.0.0.1:${port}/${path}`
const json = async <T>(path: string, method = 'GET', body?: unknown): Promise<T> => {
  const answer = await fetch(at(path), {
    method,
    headers: { 'Content-Type': 'application/json' },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  })
  return (await answer.json()) as T
}

// One drive stored, so that its charts can be asked for.
const [sample] = await json<{ id: string }[]>('api/samples')
let opened = await json<Job>(`api/samples/${sample!.id}/open`, 'POST')
while (opened.state === 'working') {
  await new Promise((done) => setTimeout(done, 100))
  opened = await json<Job>(`api/imports/${opened.id}`)
}
const drive = opened.drive_id!

const paths = [
  '',
  'api/drives',
  `api/drives/${drive}`,
  `api/drives/${drive}/window?from=0&to=600&buckets=1600&channel=pack_current&channel=pack_voltage`,
  `api/drives/${drive}/moment?at=60&channel=pack_current`,
  `api/drives/${drive}/measure?from=10&to=60&channel=pack_current`,
]

/** Asks the page's requests in turn while `ended` says no; gives milliseconds of each. */
async function askUntil(ended: () => boolean): Promise<number[]> {
  const took: number[] = []
  for (let n = 0; !ended(); n++) {
    const began = performance.now()
    const answer = await fetch(at(paths[n % paths.length]!))
    await answer.arrayBuffer()
    took.push(performance.now() - began)
    await new Promise((done) => setTimeout(done, 5))
  }
  return took
}

function told(what: string, took: number[]): void {
  took.sort((a, b) => a - b)
  const share = (p: number) => took[Math.min(took.length - 1, Math.floor(p * took.length))]!.toFixed(1)
  console.log(
    `${what}: ${took.length} requests, median ${share(0.5)} ms, 99 % under ${share(0.99)} ms, longest ${share(1)} ms`,
  )
}

const idleUntil = performance.now() + 5000
told('nothing else going on', await askUntil(() => performance.now() > idleUntil))

const stuck = await send('stuck.csv', big, 1000)
let sent = false
const sending = send('big.csv', big, statSync(big).size).finally(() => {
  sent = true
})
told('while 2 GB are being sent, another stuck', await askUntil(() => sent))
const importing = await sending
const until = performance.now() + forMs
let state: Job = importing
const watching = setInterval(async () => {
  state = await json<Job>(`api/imports/${importing.id}`)
}, 500)
told(
  'while they are being imported, another stuck',
  await askUntil(() => performance.now() > until || state.state !== 'working'),
)
clearInterval(watching)
console.log(`the import was at: ${state.doing}, ${Math.round(100 * state.share)} % (${state.state})`)
for (const job of [importing, stuck]) {
  const began = performance.now()
  const end = await json<Job>(`api/imports/${job.id}`, 'DELETE')
  console.log(`cancelled in ${Math.round(performance.now() - began)} ms: ${end.state}, ${end.error}`)
}
server.closeAllConnections()
server.close()
await app.close()
rmSync(dir, { recursive: true, force: true })

/** Announces, sends and starts one log as the page does. */
async function send(name: string, path: string, length: number): Promise<Job> {
  const job = await json<Job>('api/imports', 'POST', { files: [{ name, role: 'log', bytes: length }] })
  await new Promise<void>((done, failed) => {
    const put = request(at(`api/imports/${job.id}/files/0`), { method: 'PUT' }, (answer) => {
      answer.resume()
      answer.on('end', () =>
        answer.statusCode === 204 ? done() : failed(new Error(`status ${answer.statusCode}`)),
      )
    })
    put.on('error', failed)
    createReadStream(path, { end: length - 1 }).pipe(put)
  })
  return json<Job>(`api/imports/${job.id}/start`, 'POST')
}

/** A table of 20 columns at 100 Hz, as long as it takes. */
async function writeBig(path: string): Promise<void> {
  mkdirSync(dir, { recursive: true })
  const out = createWriteStream(path)
  const names = [
    'time_s',
    'Pack current [A]',
    'Pack voltage [V]',
    ...Array.from({ length: 17 }, (_, i) => `Cell ${i + 1} [V]`),
  ]
  out.write(`${names.join(',')}\n`)
  for (let row = 0; out.bytesWritten + out.writableLength < bytes; ) {
    let text = ''
    for (let n = 0; n < 5000; n++, row++) {
      const amps = 40 * Math.sin(row / 700)
      const cell = (3.7 - amps / 1000).toFixed(4)
      text += `${(row / 100).toFixed(2)},${amps.toFixed(2)},${(17 * 3.7 - amps / 50).toFixed(2)}${`,${cell}`.repeat(17)}\n`
    }
    if (!out.write(text)) await new Promise<void>((done) => out.once('drain', () => done()))
  }
  out.end()
  await finished(out)
}
