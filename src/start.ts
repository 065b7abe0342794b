import { existsSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import { listDrives } from './library/list.ts'
import { saveDrive } from './library/save.ts'
import { openDrive } from './open/open-drive.ts'
import { readVehicleFile } from './open/vehicle-file.ts'
import { threeLines } from './report/text.ts'
import { reviewDrive } from './review/review.ts'
import { serve } from './server/listen.ts'

/**
 * `npm start`: reviews the sample drives, prints what was found, keeps them for the page, serves the page and prints
 * its address. `--once` ends after printing.
 */
const SAMPLES = join(import.meta.dirname, '../../sample-logs')

interface Sample {
  readonly name: string
  readonly paths: readonly string[]
  readonly vehicle: string | undefined
  readonly signals: string | undefined
}

/** A folder a drive: logs, and beside them a vehicle file and perhaps a signal table. */
export function samples(folder = SAMPLES): Sample[] {
  return readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort()
    .map((name) => {
      const at = (file: string): string => join(folder, name, file)
      const files = readdirSync(join(folder, name)).sort()
      const signals = files.find((file) => file.startsWith('signals.'))
      return {
        name,
        paths: files.filter((file) => !/\.(json|md)$/.test(file) && file !== signals).map(at),
        vehicle: existsSync(at('vehicle.json')) ? at('vehicle.json') : undefined,
        signals: signals ? at(signals) : undefined,
      }
    })
}

async function start(once: boolean): Promise<void> {
  const stored = once ? [] : await listDrives(undefined)
  for (const sample of samples()) {
    const vehicle = sample.vehicle ? await readVehicleFile(sample.vehicle) : {}
    const files = sample.signals ? { signals: sample.signals } : {}
    const drive = await openDrive(sample.paths, { ...files, vehicle })
    const review = reviewDrive(drive, vehicle)
    process.stdout.write(threeLines(review, `sample ${sample.name}`))
    const hashes = drive.files.map((file) => file.sha256).join()
    if (!once && !stored.some((each) => each.files.map((file) => file.sha256).join() === hashes))
      await saveDrive({ paths: sample.paths, drive, review, vehicle, dataDir: undefined, ...files })
  }
  if (once) return
  const { url } = await serve({ dataDir: undefined, port: undefined })
  process.stdout.write(`\nThe page is at ${url} (Ctrl-C ends it).\n`)
}

await start(process.argv.includes('--once'))
