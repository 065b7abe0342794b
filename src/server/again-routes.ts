import express, { type Request, Router } from 'express'
import { replayRequestSchema, reviseRequestSchema } from '../../shared/api.ts'
import { vehicleSchema } from '../../shared/vehicle.ts'
import { showDrive } from '../library/library.ts'
import type { AppParts } from './app-parts.ts'
import { Refusal } from './errors.ts'
import type { Jobs } from './jobs.ts'
import type { OpenDrives } from './open-drives.ts'

/** A stored drive worked out again: its braking with another map, its review with another vehicle file or reading. */
export function againRoutes({ place }: AppParts, open: OpenDrives, jobs: Jobs): Router {
  const routes = Router()
  const json = express.json({ limit: '1mb' })

  routes.post('/:id/replay', json, async (request: Request<{ id: string }>, response) => {
    const { map } = replayRequestSchema.parse(request.body)
    const answer = await open.replays.answer(request.params.id, map)
    if (!answer) throw new Refusal('cannot-replay')
    response.json(answer)
  })

  routes.post('/:id/revise', json, (request: Request<{ id: string }>, response) => {
    const wish = reviseRequestSchema.parse(request.body)
    const shown = showDrive(place, request.params.id)
    const { id, title, added_at } = shown.stored.summary
    const vehicle = wish.vehicle === undefined ? shown.vehicle : vehicleSchema.parse(wish.vehicle)
    const corrections = { ...shown.corrections, ...wish.corrections }
    const job = jobs.run({
      dataDir: place.dataDir,
      logs: shown.logs,
      vehicle,
      signals: shown.signals,
      map: shown.map,
      offsets: wish.offsets ?? shown.offsets,
      corrections,
      remember: wish.remember ? wish.corrections : undefined,
      replaces: { id, title, addedAt: added_at },
    })
    response.status(202).json(job)
  })
  return routes
}
