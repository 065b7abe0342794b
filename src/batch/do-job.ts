import { LogError } from '../errors.ts'
import { importDrive } from '../library/import-drive.ts'
import { readVehicleFile } from '../open/vehicle-file.ts'
import { reviewTables } from '../out/review-tables.ts'
import { toJson } from '../report/json.ts'
import { exitStatus } from '../review/review.ts'
import { type BatchJob, PROGRAM } from './batch-job.ts'
import { type BatchRecord, isDone, partitionOf, readRecord, storeResults } from './results.ts'

/** Failures of the moment or the machine, not of the logs: tried again, never kept as the logs' own. */
const PASSING = new Set(['unreadable', 'disk', 'data-dir', 'busy', 'changed'])

/**
 * Reviews one drive and stores what was found; logs that cannot be read are a result too. A drive that another has
 * stored meanwhile is left as it is.
 * @throws LogError for what another try may mend, `changed` where a log is not what it was when the job was made
 */
export async function doJob(out: string, job: BatchJob): Promise<BatchRecord> {
  if (job.program !== PROGRAM)
    throw new LogError(
      'changed',
      `${job.name}: was asked of version ${job.program}, this worker is ${PROGRAM}; the same version everywhere was expected.`,
    )
  if (isDone(out, job)) return readRecord(out, job.key)!
  const common = {
    form: 1 as const,
    ...{ key: job.key, asked: job.asked, program: job.program, name: job.name, why: job.why },
    logs: job.logs.map(({ name, sha256 }) => ({ name, sha256 })),
  }
  try {
    const given = job.vehicle === undefined ? {} : await readVehicleFile(job.vehicle)
    const { review, vehicle } = await importDrive({
      logs: job.logs,
      vehicle: given,
      signals: job.signals,
      map: job.map,
    })
    checkHashes(job, review.drive.files)
    const partition = partitionOf(vehicle.kit, vehicle.name, job.key)
    const count = (severity: string): number =>
      review.findings.filter((each) => each.severity === severity).length
    const record: BatchRecord = {
      ...common,
      state: 'reviewed',
      sentence: review.verdict.sentence,
      partition,
      car: vehicle.name ?? null,
      verdict: review.verdict.state,
      exit: exitStatus(review),
      stop: count('stop'),
      attention: count('attention'),
    }
    await storeResults(out, record, { json: toJson(review), tables: reviewTables(review, vehicle) })
    return record
  } catch (error) {
    if (!(error instanceof LogError) || PASSING.has(error.code)) throw error
    const nothing = { partition: null, car: null, verdict: null, exit: 2, stop: 0, attention: 0 }
    const record: BatchRecord = { ...common, state: 'refused', sentence: error.message, ...nothing }
    await storeResults(out, record, null)
    return record
  }
}

/** The review must be of the logs that the key was made of. A drive's one file tells of other logs: not compared. */
function checkHashes({ logs }: BatchJob, files: readonly { readonly sha256: string }[]): void {
  if (files.length !== logs.length || logs.some(({ path }) => /\.parquet$/i.test(path))) return
  const changed = logs.find(({ sha256 }, at) => files[at]!.sha256 !== sha256)
  if (changed)
    throw new LogError(
      'changed',
      `${changed.path}: has changed since the drive was put on the list; run the batch again.`,
    )
}
