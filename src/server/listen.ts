import { existsSync, readFileSync } from 'node:fs'
import { createServer, type Server } from 'node:http'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { LogError } from '../errors.ts'
import { importInWorker } from '../library/import-worker.ts'
import { openPlace } from '../library/place.ts'
import { createApp } from './app.ts'

export interface Serving {
  readonly url: string
  close(): Promise<void>
}

export interface ServeOptions {
  readonly dataDir?: string | undefined
  /** First port tried; the next ones follow where it is taken. 0: any free one. */
  readonly port?: number | undefined
}

const FIRST_PORT = 4173
const PORTS_TRIED = 50

/** Serves the page and the stored drives on 127.0.0.1 only. @throws LogError where no port is free. */
export async function serve({ dataDir, port }: ServeOptions = {}): Promise<Serving> {
  const home = programHome()
  const webDir = join(home, 'dist', 'web')
  const app = createApp({
    place: openPlace(dataDir),
    webDir: existsSync(webDir) ? webDir : null,
    samplesDir: join(home, 'sample-logs'),
    runImport: importInWorker,
    version: programVersion(home),
  })
  const server = createServer(app.express)
  server.requestTimeout = 0
  const taken = await listenOnLoopback(server, port ?? FIRST_PORT)
  return {
    url: `http://127.0.0.1:${taken}/`,
    async close() {
      server.closeAllConnections()
      await new Promise((done) => server.close(done))
      await app.close()
    },
  }
}

async function listenOnLoopback(server: Server, first: number): Promise<number> {
  for (let port = first; port < first + PORTS_TRIED && port < 65536; port++) {
    const error = await new Promise<NodeJS.ErrnoException | null>((done) => {
      server.once('error', done)
      server.listen(port, '127.0.0.1', () => {
        server.removeListener('error', done)
        done(null)
      })
    })
    if (error === null) return (server.address() as { port: number }).port
    if (error.code !== 'EADDRINUSE' && error.code !== 'EACCES') throw error
  }
  throw new LogError('no-port', `No port from ${first} to ${first + PORTS_TRIED - 1} is free on 127.0.0.1.`)
}

/** The folder of package.json, from the sources as from the build. */
function programHome(): string {
  let folder = dirname(fileURLToPath(import.meta.url))
  while (!existsSync(join(folder, 'package.json'))) folder = dirname(folder)
  return folder
}

function programVersion(home: string): string {
  const { version } = JSON.parse(readFileSync(join(home, 'package.json'), 'utf8')) as { version: string }
  return version
}
