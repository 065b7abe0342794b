import express, { Router } from 'express'
import { importRequestSchema } from '../../shared/api.ts'
import type { Jobs } from './jobs.ts'

/**
 * Importing in three steps, so that any number of files of any size can stream in:
 *
 *     POST /api/imports            names, roles, sizes → the job
 *     PUT  /api/imports/ID/files/N the bytes of file N (from 0)
 *     POST /api/imports/ID/start   → the job; then GET /api/imports/ID until done or failed
 *     DELETE /api/imports/ID       cancels it, at any time
 */
export function importRoutes(jobs: Jobs): Router {
  const routes = Router()
  routes.post('/', express.json({ limit: '256kb' }), async (request, response) => {
    response.status(201).json(await jobs.announce(importRequestSchema.parse(request.body)))
  })
  routes.put('/:id/files/:at', async (request, response) => {
    await jobs.receive(request.params.id, Number(request.params.at), request)
    response.status(204).end()
  })
  routes.post('/:id/start', async (request, response) => {
    response.json(await jobs.start(request.params.id))
  })
  routes.delete('/:id', async (request, response) => {
    response.json(await jobs.cancel(request.params.id))
  })
  routes.get('/:id', (request, response) => {
    response.json(jobs.get(request.params.id))
  })
  return routes
}
