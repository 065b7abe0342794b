import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { Router } from 'express'
import type { Sample } from '../../shared/api.ts'
import { openLogSource } from '../bytes/file-source.ts'
import type { ImportTask } from '../library/import-and-store.ts'
import { drivesIn } from '../library/library.ts'
import { parseVehicle } from '../open/vehicle-file.ts'
import type { AppParts } from './app-parts.ts'
import { Refusal } from './errors.ts'
import type { Jobs } from './jobs.ts'

/** The sample drives that come with the program: a folder each, with its logs and `vehicle.json`. */
export function sampleRoutes(parts: AppParts, jobs: Jobs): Router {
  const routes = Router()
  routes.get('/', (_request, response) => {
    response.json(samplesIn(parts.samplesDir).map(({ sample }) => sample))
  })
  routes.post('/:id/open', async (request, response) => {
    const found = samplesIn(parts.samplesDir).find(({ sample }) => sample.id === request.params.id)
    if (!found) throw new Refusal('no-such-sample')
    const hashes = await Promise.all(
      found.task.logs.map(async ({ path }) => (await openLogSource(path)).sha256()),
    )
    const kept = drivesIn(parts.place).find(
      ({ files }) => files.map((file) => file.sha256).join() === hashes.join(),
    )
    if (kept) {
      response.json(jobs.alreadyDone(kept.id))
      return
    }
    response.status(202).json(jobs.run({ ...found.task, dataDir: parts.place.dataDir }))
  })
  return routes
}

interface FoundSample {
  readonly sample: Sample
  readonly task: Omit<ImportTask, 'dataDir'>
}

const LOG = /\.(csv|txt|log|tsv|pcap|pcapng)(\.gz)?$/i

function samplesIn(dir: string | null): FoundSample[] {
  if (dir === null || !existsSync(dir)) return []
  return readdirSync(dir)
    .sort()
    .filter((name) => statSync(join(dir, name)).isDirectory())
    .flatMap((name) => {
      const found = sampleIn(join(dir, name), name)
      return found ? [found] : []
    })
}

function sampleIn(folder: string, id: string): FoundSample | null {
  const files = readdirSync(folder).sort()
  const logs = files.filter((name) => LOG.test(name) && !/^signals\./i.test(name))
  if (logs.length === 0) return null
  const vehiclePath = join(folder, 'vehicle.json')
  const vehicle = existsSync(vehiclePath)
    ? parseVehicle(readFileSync(vehiclePath, 'utf8'), 'vehicle.json')
    : {}
  const signals = files.find((name) => /^signals\.(json|csv)(\.gz)?$/i.test(name))
  const words = id.replaceAll('-', ' ')
  const title = words.charAt(0).toUpperCase() + words.slice(1)
  return {
    sample: { id, title, about: logs.join(', ') },
    task: {
      logs: logs.map((name) => ({ name, path: join(folder, name) })),
      vehicle,
      signals: signals === undefined ? undefined : join(folder, signals),
    },
  }
}
