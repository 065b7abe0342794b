import express, { Router } from 'express'
import { importRequestSchema, type Job } from '../../shared/api.ts'
import type { Jobs } from './jobs.ts'

/**
 * Importing in three steps, so that any number of files of any size can stream in:
 *
 *     POST /api/imports            names, roles, sizes → the job
 *     PUT  /api/imports/ID/files/N the bytes of file N (from 0)
 *     POST /api/imports/ID/start   → the job; then GET /api/imports/ID until done or failed
 *     GET  /api/imports/ID/events  the job at each change, as server-sent events, until it has ended
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
  routes.get('/:id/events', (request, response) => {
    const { id } = request.params
    const first = jobs.get(id)
    response.writeHead(200, { 'Content-Type': 'text/event-stream', 'X-Accel-Buffering': 'no' })
    const tell = (job: Job) => {
      response.write(`data: ${JSON.stringify(job)}\n\n`)
      if (job.state === 'done' || job.state === 'failed') response.end()
    }
    const quiet = jobs.watch(id, tell)
    response.on('close', quiet)
    tell(first)
  })
  routes.get('/:id', (request, response) => {
    response.json(jobs.get(request.params.id))
  })
  return routes
}
