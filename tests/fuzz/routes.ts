import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { createServer, request, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { LogError } from '../../src/errors.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { type App, createApp } from '../../src/server/app.ts'
import { smallDrive } from '../helpers/small-drive.ts'
import type { Failure } from './fuzz.ts'
import { luck, mutateText } from './mutate.ts'

/** An answer later than this is none, ms; a mutant asks for at most 4 KB of work. */
const PATIENCE_MS = 10_000

const PATHS = [
  ['GET', '/api/drives'],
  ['GET', '/api/drives/ID'],
  ['DELETE', '/api/drives/20300101-000000-bbbbbb'],
  ['GET', '/api/drives/ID/window?from=0&to=60&buckets=200&channel=pack_current&channel=pack_voltage'],
  ['GET', '/api/drives/ID/moment?at=3.5&channel=pack_current'],
  ['GET', '/api/drives/ID/measure?from=1&to=20&channel=cell_voltage.1'],
  ['GET', '/api/drives/ID/pairs?x=pack_current&y=cell_voltage.1&from=0&to=60&minus=median-cell'],
  ['GET', '/api/drives/ID/peers?x=pack_current&y=cell_voltage.1&from=0&to=60'],
  ['GET', '/api/drives/ID/compare/ID'],
  ['GET', '/api/drives/ID/report'],
  ['PUT', '/api/drives/ID/notes', { notes: 'looked at', title: 'Sorrel' }],
  ['POST', '/api/drives/ID/replay', { map: { start_bar: 3, full_bar: 28, max_nm: 68 } }],
  ['POST', '/api/drives/ID/revise', { vehicle: { pack: { cells: 3 } }, corrections: {}, offsets: [null] }],
  ['POST', '/api/imports', { files: [{ name: 'a.csv', role: 'log', bytes: 3 }] }],
  ['PUT', '/api/imports/20300101-000000-cccccc/files/0', 'abc'],
  ['POST', '/api/imports/20300101-000000-cccccc/start'],
  ['GET', '/api/imports/20300101-000000-cccccc'],
  ['DELETE', '/api/imports/20300101-000000-cccccc'],
  ['GET', '/api/samples'],
  ['GET', '/'],
] as const

const METHODS = ['GET', 'POST', 'PUT', 'DELETE', 'HEAD', 'OPTIONS', 'PATCH']
const HEADERS: readonly (readonly [string, string])[] = [
  ['Origin', 'http://elsewhere.example'],
  ['Host', 'elsewhere.example'],
  ['Content-Type', 'text/plain'],
  ['Content-Type', 'application/json; charset=utf-16'],
  ['Content-Encoding', 'gzip'],
  ['Sec-Fetch-Site', 'cross-site'],
  ['Range', 'bytes=9-1'],
  ['Accept', 'text/event-stream'],
]

/** The server's every route, asked with spoiled paths, queries, heads and bodies. Close it. */
export class Routes {
  readonly #app: App
  readonly #server: Server
  readonly #dir: string
  readonly #id: string

  private constructor(app: App, server: Server, dir: string, id: string) {
    this.#app = app
    this.#server = server
    this.#dir = dir
    this.#id = id
  }

  static async open(): Promise<Routes> {
    const dir = mkdtempSync(join(tmpdir(), 'aftermile-fuzz-routes-'))
    const place = openPlace(join(dir, 'data'))
    const log = join(dir, 'log.csv')
    writeFileSync(log, 'time,word\n0,1\n')
    const drive = smallDrive()
    const logs = [{ path: log, name: 'log.csv' }]
    const { id } = storeDrive(place, { drive, review: reviewDrive(drive, {}), vehicle: {}, logs })
    const runImport = () => Promise.reject(new LogError('no-import', 'This server imports nothing.'))
    const app = createApp({ place, webDir: null, samplesDir: null, runImport, version: '0' })
    const server = createServer(app.express)
    await new Promise<void>((done) => server.listen(0, '127.0.0.1', done))
    return new Routes(app, server, dir, id)
  }

  /** Asks once; null where a sound answer came: below 500, or one of the two that a server may give. */
  async tryOne(seed: number): Promise<Failure | null> {
    const random = luck(seed)
    const [plainMethod, plainPath, plainBody] = PATHS[Math.floor(random() * PATHS.length)]!
    const method = random() < 0.1 ? METHODS[Math.floor(random() * METHODS.length)]! : plainMethod
    const spoiled = random() < 0.5 ? `/${mutateText(plainPath.slice(1), random)}` : plainPath
    // What a client of Node does not send at all is not asked: control characters and blanks are escaped.
    const path = spoiled.replaceAll('ID', this.#id).replace(/[^!-~]/g, (each) => encodeURIComponent(each))
    const text =
      plainBody === undefined ? '' : typeof plainBody === 'string' ? plainBody : JSON.stringify(plainBody)
    const body = random() < 0.7 ? mutateText(text, random) : text
    const headers: Record<string, string> = { 'Content-Type': 'application/json' }
    while (random() < 0.2) {
      const [name, value] = HEADERS[Math.floor(random() * HEADERS.length)]!
      headers[name] = value
    }
    const why = await this.#ask(method, path, headers, body).catch((error: Error) => error.message)
    return why === null ? null : { target: `${method} ${path}`, seed, why }
  }

  #ask(method: string, path: string, headers: Record<string, string>, body: string): Promise<string | null> {
    const { port } = this.#server.address() as AddressInfo
    return new Promise((resolve, reject) => {
      const asked = request(
        { port, host: '127.0.0.1', method, path, headers, timeout: PATIENCE_MS, agent: false },
        (answer) => {
          let text = ''
          answer.setEncoding('latin1')
          answer.on('data', (chunk: string) => {
            text += chunk
          })
          answer.on('error', reject)
          answer.on('end', () => {
            const status = answer.statusCode ?? 0
            if (status >= 500 && status !== 503 && status !== 507)
              resolve(`status ${status}: ${text.slice(0, 300)}`)
            else if (text.includes(this.#dir))
              resolve(`a path of the server in the answer: ${text.slice(0, 300)}`)
            else resolve(null)
          })
        },
      )
      asked.on('timeout', () => asked.destroy(new Error(`no answer within ${PATIENCE_MS / 1000} s`)))
      asked.on('error', reject)
      asked.end(method === 'GET' || method === 'HEAD' ? undefined : body)
    })
  }

  async close(): Promise<void> {
    this.#server.closeAllConnections()
    await new Promise((done) => this.#server.close(done))
    await this.#app.close()
    rmSync(this.#dir, { recursive: true, force: true })
  }
}
