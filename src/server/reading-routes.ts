import { type Request, Router } from 'express'
import type { Span } from '../../shared/units.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { Refusal } from './errors.ts'
import { measures, moment, pairs, peerBand } from './figures.ts'
import type { OpenDrives } from './open-drives.ts'
import { windowBytes } from './window-bytes.ts'

/** A chart's width in points: what is asked for is kept between these. */
const FEWEST_BUCKETS = 50
const MOST_BUCKETS = 8000
/** A screen's width where nothing is asked for. */
const USUAL_BUCKETS = 1600
/** More channels than any chart or table of the page asks for at once. */
const MOST_CHANNELS = 1000

/** What a stored drive's channels read: over a window, at a moment, one against another. */
export function readingRoutes(open: OpenDrives): Router {
  const routes = Router()

  routes.get('/:id/window', (request, response) => {
    const reader = open.reader(request.params.id)
    const span = spanOf(request)
    const buckets = bucketsOf(request)
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
  return routes
}

function bucketsOf(request: Request): number {
  const wished = Math.round(numberOf(request, 'buckets', USUAL_BUCKETS))
  return Math.min(MOST_BUCKETS, Math.max(FEWEST_BUCKETS, wished))
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

/** `channel=a&channel=b`: each must exist. */
function channelsOf(request: Request, reader: ChannelReader): string[] {
  const given = request.query.channel
  const ids = (Array.isArray(given) ? given : [given]).map((each) => String(each ?? ''))
  if (ids.length > MOST_CHANNELS)
    throw new Refusal('bad-request', `At most ${MOST_CHANNELS} channels at once.`)
  for (const id of ids) if (!reader.has(id)) throw new Refusal('no-such-channel')
  return ids
}
