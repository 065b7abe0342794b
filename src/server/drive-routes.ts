import express, { type Request, Router } from 'express'
import {
  type DriveAnswer,
  notesRequestSchema,
  replayRequestSchema,
  reviseRequestSchema,
} from '../../shared/api.ts'
import { catalogueEntry, channelLabel } from '../../shared/channels.ts'
import type { Review } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { compareDrives } from '../library/compare-drives.ts'
import { annotateDrive, drivesIn, loadDrive, removeDrive, showDrive } from '../library/library.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { toHtml } from '../report/html.ts'
import type { AppParts } from './app-parts.ts'
import { Refusal } from './errors.ts'
import { measures, moment, pairs, peerBand } from './figures.ts'
import { REPORT_POLICY } from './guard.ts'
import type { Jobs } from './jobs.ts'
import type { OpenDrives } from './open-drives.ts'
import { windowBytes } from './window-bytes.ts'

/** Stored drives: what was found, their samples, corrections, notes, tables, report. */
export function driveRoutes(parts: AppParts, open: OpenDrives, jobs: Jobs): Router {
  const { place } = parts
  const routes = Router()
  const json = express.json({ limit: '1mb' })

  routes.get('/', (_request, response) => {
    response.json(drivesIn(place))
  })

  routes.get('/:id', (request, response) => {
    const shown = showDrive(place, request.params.id)
    const answer: DriveAnswer = {
      summary: shown.stored.summary,
      review: shown.review,
      channels: open.reader(request.params.id).header.channels.map((channel) => ({
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
      version: parts.version,
      can_replay: canReplay(shown.review),
    }
    response.json(answer)
  })

  routes.delete('/:id', (request, response) => {
    open.forget(request.params.id)
    removeDrive(place, request.params.id)
    response.status(204).end()
  })

  routes.get('/:id/window', (request, response) => {
    const reader = open.reader(request.params.id)
    const span = spanOf(request)
    const buckets = Math.min(8000, Math.max(50, Math.round(numberOf(request, 'buckets', 1600))))
    const ids = channelsOf(request, reader)
    const channels = ids.map((id) => ({ id, points: reader.points(id, span, buckets) }))
    response.type('application/octet-stream').send(windowBytes(span, channels))
  })

  routes.get('/:id/moment', (request, response) => {
    const reader = open.reader(request.params.id)
    response.json(moment(reader, channelsOf(request, reader), numberOf(request, 'at')))
  })

  routes.get('/:id/measure', (request, response) => {
    const reader = open.reader(request.params.id)
    response.json(measures(reader, channelsOf(request, reader), spanOf(request)))
  })

  routes.get('/:id/pairs', (request, response) => {
    const reader = open.reader(request.params.id)
    const [x, y] = [nameOf(request, 'x', reader), nameOf(request, 'y', reader)]
    const minus = String(request.query.minus ?? '') === 'median-cell'
    response.json(pairs(reader, x, y, spanOf(request), minus))
  })

  routes.get('/:id/peers', (request, response) => {
    const reader = open.reader(request.params.id)
    const [x, y] = [nameOf(request, 'x', reader), nameOf(request, 'y', reader)]
    if (!y.startsWith('cell_voltage.')) throw new Refusal('bad-request', 'Peers are told of cells only.')
    response.json(peerBand(reader, x, y, spanOf(request)))
  })

  routes.put('/:id/notes', json, (request: Request<{ id: string }>, response) => {
    const { notes, title } = notesRequestSchema.parse(request.body)
    annotateDrive(place, request.params.id, notes, title)
    response.status(204).end()
  })

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

  routes.get('/:id/compare/:before', (request, response) => {
    const before = showDrive(place, request.params.before)
    response.json(compareDrives(before.review, showDrive(place, request.params.id).review))
  })

  routes.get('/:id/tables/:name', async (request, response) => {
    const { makeTable, TABLE_NAMES } = await import('../tables/make-table.ts')
    const name = TABLE_NAMES.find((each) => each === request.params.name)
    if (!name) throw new Refusal('no-such-table')
    const { group, sort, falling } = request.query
    const shown = showDrive(place, request.params.id)
    const wish = {
      group: typeof group === 'string' ? group : null,
      sort: typeof sort === 'string' ? { key: sort, falling: falling === '1' } : null,
    }
    response.json(makeTable(shown.review, name, wish, shown.vehicle))
  })

  routes.get('/:id/tables/:name/csv', async (request, response) => {
    const { tableCsv } = await import('../tables/table-csv.ts')
    const shown = showDrive(place, request.params.id)
    const csv = await tableCsv(shown.review, request.params.name, shown.vehicle)
    response
      .type('text/csv; charset=utf-8')
      .set('Content-Disposition', `attachment; filename="${request.params.name}.csv"`)
      .send(csv)
  })

  routes.get('/:id/report', (request, response) => {
    const shown = showDrive(place, request.params.id)
    const drive = loadDrive(place, request.params.id)
    const { title } = shown.stored.summary
    response
      .set('Content-Security-Policy', REPORT_POLICY)
      .type('html')
      .send(
        toHtml(shown.review, drive, {
          ...{ title, notes: shown.notes, version: parts.version },
          record: shown.vehicle.record,
        }),
      )
  })
  return routes
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
    !codes.every((code) => Number.isInteger(code) && code >= 0 && code < 64)
  )
    return null
  return Array.from({ length: Math.max(...codes) + 1 }, (_, code) => names[String(code)] ?? String(code))
}

function numberOf(request: Request, name: string, otherwise?: number): number {
  const text = request.query[name]
  if (text === undefined && otherwise !== undefined) return otherwise
  const value = typeof text === 'string' && text !== '' ? Number(text) : Number.NaN
  if (!Number.isFinite(value)) throw new Refusal('bad-request', `A number is needed as "${name}".`)
  return value
}

function spanOf(request: Request): Span {
  const span = [numberOf(request, 'from'), numberOf(request, 'to')] as const
  if (!(span[1] > span[0])) throw new Refusal('bad-request', '"to" must be later than "from".')
  return span
}

function nameOf(request: Request, key: string, reader: ChannelReader): string {
  const id = String(request.query[key] ?? '')
  if (!reader.has(id)) throw new Refusal('no-such-channel')
  return id
}

/** `channel=a&channel=b`: each must exist; at most 1000. */
function channelsOf(request: Request, reader: ChannelReader): string[] {
  const given = request.query.channel
  const ids = (Array.isArray(given) ? given : [given]).map((each) => String(each ?? ''))
  if (ids.length > 1000) throw new Refusal('bad-request', 'At most 1000 channels at once.')
  for (const id of ids) if (!reader.has(id)) throw new Refusal('no-such-channel')
  return ids
}
