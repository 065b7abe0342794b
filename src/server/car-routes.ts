import express, { type Request, Router } from 'express'
import { PAPERS } from '../../shared/car-answer.ts'
import { deedSchema, noteSchema, triedMapSchema } from '../../shared/car-record.ts'
import { readingSchema } from '../../shared/reading.ts'
import { carAnswer } from '../cars/answer.ts'
import { carsIn, openCar } from '../cars/open-car.ts'
import { paperOf } from '../cars/papers/papers.ts'
import { CAR_TABLES } from '../cars/series.ts'
import { tableOf } from '../cars/table-of.ts'
import { writeDeed, writeMap, writeNote, writeReading } from '../cars/work.ts'
import type { Place } from '../library/place.ts'
import { attachBytes, attachedPath } from '../library/record/attached.ts'
import type { AppParts } from './app-parts.ts'
import { Refusal } from './errors.ts'
import { REPORT_POLICY } from './guard.ts'

type OfCar = Request<{ car: string }>

/** Images that a browser may show by itself; everything else is handed over as a file. */
const IMAGES: Readonly<Record<string, string>> = {
  jpg: 'image/jpeg',
  jpeg: 'image/jpeg',
  png: 'image/png',
  webp: 'image/webp',
}

/** Cars: their records, what became of findings, files, papers. */
export function carRoutes({ place }: AppParts): Router {
  const routes = Router()
  const json = express.json({ limit: '1mb' })

  routes.get('/', (_request, response) => {
    response.json(carsIn(place))
  })

  routes.get('/:car', (request: OfCar, response) => {
    response.json(carAnswer(openCar(place, request.params.car)))
  })

  routes.post('/:car/deeds', json, (request: OfCar, response) => {
    const { finding, ...deed } = (request.body ?? {}) as { finding?: unknown }
    if (typeof finding !== 'string') throw new Refusal('bad-request', 'A finding is needed.')
    const file = openCar(place, request.params.car)
    writeDeed(place, file, finding, deedSchema.parse(deed))
    response.json(carAnswer(openCar(place, request.params.car)))
  })

  routes.post('/:car/readings', json, (request: OfCar, response) => {
    const { car } = openCar(place, request.params.car)
    writeReading(place, car, readingSchema.parse(request.body))
    response.json(carAnswer(openCar(place, car)))
  })

  routes.post('/:car/notes', json, (request: OfCar, response) => {
    const { car } = openCar(place, request.params.car)
    writeNote(place, car, noteSchema.parse(request.body))
    response.json(carAnswer(openCar(place, car)))
  })

  routes.post('/:car/maps', json, (request: OfCar, response) => {
    const { car } = openCar(place, request.params.car)
    writeMap(place, car, triedMapSchema.parse(request.body))
    response.json(carAnswer(openCar(place, car)))
  })

  routes.use(fileRoutes(place))
  routes.use(paperRoutes(place))
  return routes
}

function fileRoutes(place: Place): Router {
  const routes = Router()
  routes.post('/:car/files', express.raw({ type: () => true, limit: '64mb' }), (request: OfCar, response) => {
    const { car } = openCar(place, request.params.car)
    const word = (name: string): string => String(request.query[name] ?? '').trim()
    if (!Buffer.isBuffer(request.body) || word('name') === '' || word('by') === '')
      throw new Refusal('bad-request', 'A file, its name and who brings it are needed.')
    attachBytes(place, car, request.body, {
      ...{ name: word('name').slice(0, 200), by: word('by').slice(0, 200), about: word('about') },
      at: new Date().toISOString(),
    })
    response.json(carAnswer(openCar(place, car)))
  })

  routes.get('/:car/files/:number', (request: Request<{ car: string; number: string }>, response) => {
    const { file, path } = attachedPath(place, request.params.car, Number(request.params.number))
    const type = IMAGES[file.name.split('.').at(-1)!.toLowerCase()]
    const name = encodeURIComponent(file.name)
    response
      .type(type ?? 'application/octet-stream')
      .set('Content-Disposition', `${type ? 'inline' : 'attachment'}; filename*=UTF-8''${name}`)
      .sendFile(path, { dotfiles: 'allow', cacheControl: false })
  })
  return routes
}

function paperRoutes(place: Place): Router {
  const routes = Router()
  routes.get('/:car/tables/:name', async (request: Request<{ car: string; name: string }>, response) => {
    const name = CAR_TABLES.find((each) => each === request.params.name)
    if (!name) throw new Refusal('no-such-table')
    response.json(await tableOf(place, openCar(place, request.params.car), name))
  })

  routes.get('/:car/papers/:paper', (request: Request<{ car: string; paper: string }>, response) => {
    const paper = paperOf(openCar(place, request.params.car), request.params.paper)
    if (!paper) throw new Refusal('no-such-place', `The papers are ${PAPERS.join(', ')}.`)
    if (request.query.as === 'json') response.json(paper.data)
    else response.set('Content-Security-Policy', REPORT_POLICY).type('html').send(paper.html)
  })
  return routes
}
