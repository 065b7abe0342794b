import { mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Router } from 'express'
import { compareDrives } from '../library/compare-drives.ts'
import { loadDrive, showDrive } from '../library/library.ts'
import type { Place } from '../library/paths.ts'
import { sendInWorker } from '../library/send-drive.ts'
import { toHtml } from '../report/html.ts'
import type { AppParts } from './app-parts.ts'
import { Refusal } from './errors.ts'
import { REPORT_POLICY } from './guard.ts'

/** What can be laid on a table: two drives side by side, tables, the drive in one file, the hand-over sheet. */
export function paperRoutes({ place, version }: AppParts): Router {
  const routes = Router()

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
    const csv = tableCsv(shown.review, request.params.name, shown.vehicle)
    response
      .type('text/csv; charset=utf-8')
      .set('Content-Disposition', `attachment; filename="${request.params.name}.csv"`)
      .send(csv)
  })

  routes.get('/:id/file', async (request, response) => {
    response
      .type('application/vnd.apache.parquet')
      .set('Content-Disposition', 'attachment; filename="drive.parquet"')
      .send(await oneFile(place, request.params.id))
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
          ...{ title, notes: shown.notes, version },
          record: shown.vehicle.record,
          words: shown.vehicle,
        }),
      )
  })
  return routes
}

/** The drive in one file, its bytes; nothing stays on the disk. */
async function oneFile(place: Place, id: string): Promise<Buffer> {
  const folder = await mkdtemp(join(tmpdir(), 'aftermile-send-'))
  try {
    return await readFile(await sendInWorker(place, id, join(folder, 'drive.parquet')))
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
