import express, { type Request, Router } from 'express'
import { type DriveAnswer, notesRequestSchema } from '../../shared/api.ts'
import { catalogueEntry, channelLabel } from '../../shared/channels.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { annotateDrive, drivesIn, removeDrive, showDrive } from '../library/library.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { searchDrives } from '../library/search.ts'
import { againRoutes } from './again-routes.ts'
import type { AppParts } from './app-parts.ts'
import type { Jobs } from './jobs.ts'
import type { OpenDrives } from './open-drives.ts'
import { paperRoutes } from './paper-routes.ts'
import { readingRoutes } from './reading-routes.ts'

/** More codes than a control unit's state has: a list by code stays short. */
const MOST_STATES = 64

/** Stored drives: what was found and noted; readings, work done again and papers in files of their own. */
export function driveRoutes(parts: AppParts, open: OpenDrives, jobs: Jobs): Router {
  const { place } = parts
  const routes = Router()
  const json = express.json({ limit: '1mb' })

  routes.get('/', (request, response) => {
    const word = (name: string): string | undefined => {
      const text = request.query[name]
      return typeof text === 'string' && text !== '' ? text : undefined
    }
    const search = {
      ...{ car: word('car'), kit: word('kit'), from: word('from'), to: word('to') },
      ...{ finding: word('finding'), verdict: word('verdict'), text: word('text') },
    }
    const found = searchDrives(drivesIn(place), search)
    const most = Number(word('most') ?? found.length)
    response.set('X-Found', String(found.length))
    response.json(found.slice(0, Number.isFinite(most) ? Math.max(0, most) : found.length))
  })

  routes.get('/:id', (request, response) => {
    const { id } = request.params
    response.json(answerOf(showDrive(place, id), open.reader(id), parts.version))
  })

  routes.delete('/:id', (request, response) => {
    open.forget(request.params.id)
    removeDrive(place, request.params.id)
    response.status(204).end()
  })

  routes.put('/:id/notes', json, (request: Request<{ id: string }>, response) => {
    const { notes, title } = notesRequestSchema.parse(request.body)
    annotateDrive(place, request.params.id, notes, title)
    response.status(204).end()
  })

  routes.use(readingRoutes(open), againRoutes(parts, open, jobs), paperRoutes(parts))
  return routes
}

/** All that the page needs to open a drive, but its samples. */
function answerOf(shown: ReturnType<typeof showDrive>, reader: ChannelReader, version: string): DriveAnswer {
  return {
    summary: shown.stored.summary,
    review: shown.review,
    channels: reader.header.channels.map((channel) => ({
      id: channel.id,
      label: channelLabel(channel.id),
      unit: channel.unit,
      kind: channel.labels ? 'code' : (catalogueEntry(channel.id)?.kind ?? 'number'),
      file: channel.file,
      from: channel.from,
      samples: channel.samples,
      labels: channel.labels ?? stateNames(shown.vehicle, channel.id),
    })),
    vehicle: shown.vehicle,
    corrections: shown.corrections,
    offsets: [...shown.offsets],
    notes: shown.notes,
    version,
    can_replay: canReplay(shown.review),
  }
}

/** Is there a map to start from? Whether the rest is in the log, the first replay tells. */
function canReplay({ regen }: Review): boolean {
  return regen !== null && regen.start_bar !== null && regen.full_bar !== null && regen.max_nm !== null
}

/** Names of a state's codes from the vehicle file, as a list by code; null where they are not given or far apart. */
function stateNames({ states }: Vehicle, id: string): string[] | null {
  const names = id === 'bms_state' ? states?.bms : id === 'inverter_state' ? states?.inverter : undefined
  const codes = Object.keys(names ?? {}).map(Number)
  if (
    !names ||
    codes.length === 0 ||
    !codes.every((code) => Number.isInteger(code) && code >= 0 && code < MOST_STATES)
  )
    return null
  return Array.from({ length: Math.max(...codes) + 1 }, (_, code) => names[String(code)] ?? String(code))
}
