import express, { type Express, type NextFunction, type Request, type Response } from 'express'
import type { AppParts } from './app-parts.ts'
import { carRoutes } from './car-routes.ts'
import { driveRoutes } from './drive-routes.ts'
import { answerOf, Refusal } from './errors.ts'
import { guard } from './guard.ts'
import { importRoutes } from './import-routes.ts'
import { Jobs } from './jobs.ts'
import { OpenDrives } from './open-drives.ts'
import { sampleRoutes } from './sample-routes.ts'

export interface App {
  readonly express: Express
  /** Waits for imports under way and closes files. */
  close(): Promise<void>
}

const GIB = 2 ** 30

/** The server's answers, without a port: `listen.ts` alone listens. */
export function createApp(parts: AppParts): App {
  const open = new OpenDrives(parts.place)
  const jobs = new Jobs(parts.place, parts.runImport, parts.uploadLimit ?? 8 * GIB, (id) => open.forget(id))
  const app = express()
  app.disable('x-powered-by')
  app.disable('etag')
  app.set('query parser', 'simple')
  app.use(guard)
  app.use('/api/drives', driveRoutes(parts, open, jobs))
  app.use('/api/cars', carRoutes(parts))
  app.use('/api/imports', importRoutes(jobs))
  app.use('/api/samples', sampleRoutes(parts, jobs))
  if (parts.webDir !== null)
    app.use(express.static(parts.webDir, { dotfiles: 'ignore', cacheControl: false }))
  app.use(() => {
    throw new Refusal('no-such-place')
  })
  app.use((error: unknown, _request: Request, response: Response, _next: NextFunction) => {
    const { status, code, sentence } = answerOf(error)
    if (status >= 500) process.stderr.write(`${(error as Error)?.stack ?? error}\n`)
    if (response.headersSent) response.destroy()
    else response.status(status).json({ error: { code, sentence } })
  })
  return {
    express: app,
    async close() {
      await jobs.idle()
      open.close()
    },
  }
}
