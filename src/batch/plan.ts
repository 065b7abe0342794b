import { readFileSync } from 'node:fs'
import { dirname, relative, resolve } from 'node:path'
import { z } from 'zod'
import { LogError } from '../errors.ts'
import { askedHash, type BatchJob, driveKey, PROGRAM } from './batch-job.ts'
import { type Beside, findLogs, type LogFolder } from './find-logs.ts'
import { type Group, type Grouping, groupLogs } from './group-logs.ts'
import { hashLog, lookAtLog, type SeenLog } from './look-at-log.ts'

export interface PlanOptions {
  readonly out: string
  readonly by: Grouping
  /** A list of groups, given instead of finding them: a JSON file. */
  readonly groups?: string | undefined
  /** For all drives, before what lies beside their logs. */
  readonly given: Beside
  readonly progress: (logs: number) => void
}

/** The drives that lie in folders, and what could not be made one. */
export interface Plan {
  readonly jobs: readonly BatchJob[]
  /** Sentences: logs that cannot be read, the same logs at two places. */
  readonly notes: readonly string[]
}

/** Finds the logs, puts together what is one drive, and hashes all of it. */
export async function planBatch(folders: readonly string[], options: PlanOptions): Promise<Plan> {
  const notes: string[] = []
  const jobs = new Map<string, BatchJob>()
  const asked = new Map<string, string>()
  let looked = 0
  const look = async (path: string, alone: boolean, signals?: string): Promise<SeenLog | null> => {
    options.progress(++looked)
    try {
      return alone ? await hashLog(path) : await lookAtLog(path, signals)
    } catch (error) {
      if (!(error instanceof LogError)) throw error
      notes.push(error.message)
      return null
    }
  }
  const add = (group: Group, folder: string, beside: Beside): void => {
    const name = nameOf(group, folder, folders)
    const key = driveKey(group.logs.map(({ sha256 }) => sha256))
    const twin = jobs.get(key)
    if (twin) {
      notes.push(`${name}: the same logs as ${twin.name}; reviewed once.`)
      return
    }
    const files = { ...beside, ...options.given }
    const logs = group.logs.map(({ path, name, sha256 }) => ({ path, name, sha256 }))
    jobs.set(key, {
      key,
      asked: askedHash(files, asked),
      program: PROGRAM,
      name,
      why: group.why,
      logs,
      ...files,
    })
  }
  if (options.groups !== undefined)
    for (const { folder, logs, beside, why } of readGroups(options.groups)) {
      const seen = (await inTurn(logs, (path) => look(path, true))).filter((log) => log !== null)
      if (seen.length > 0) add({ logs: seen, why }, folder, beside)
    }
  else
    for (const found of findLogs(folders, options.out)) {
      const alone = found.logs.length === 1 || options.by === 'folder' || options.by === 'file'
      const seen = (
        await inTurn(found.logs, (path) => look(path, alone, options.given.signals ?? found.beside.signals))
      ).filter((log) => log !== null)
      if (seen.length === 0) continue
      for (const group of groupLogs(seen, options.by)) add(group, found.folder, found.beside)
    }
  return { jobs: [...jobs.values()], notes }
}

async function inTurn<T, R>(all: readonly T[], work: (each: T) => Promise<R>): Promise<R[]> {
  const out: R[] = []
  for (const each of all) out.push(await work(each))
  return out
}

/** `night-7/car-3: bms.csv + inverter.csv`, from the folder that was named on. */
function nameOf({ logs }: Group, folder: string, roots: readonly string[]): string {
  const root = roots
    .map((each) => resolve(each))
    .find((each) => folder === each || folder.startsWith(`${each}/`))
  const place = root === undefined ? folder : relative(dirname(root), folder)
  return `${place}: ${logs.map(({ name }) => name).join(' + ')}`
}

const groupsSchema = z.array(
  z.strictObject({
    logs: z.array(z.string()).min(1),
    vehicle: z.string().optional(),
    signals: z.string().optional(),
    map: z.string().optional(),
    why: z.string().optional(),
  }),
)

/** A person's word on which logs belong together; paths from the list's own folder. */
function readGroups(path: string): (LogFolder & { readonly why: string })[] {
  let json: unknown
  try {
    json = JSON.parse(readFileSync(path, 'utf8'))
  } catch (error) {
    throw new LogError('groups', `${path}: is no list of groups in JSON (${(error as Error).message}).`)
  }
  const parsed = groupsSchema.safeParse(json)
  if (!parsed.success)
    throw new LogError(
      'groups',
      `${path}: entry ${String(parsed.error.issues[0]!.path[0] ?? 0)} is not understood; [ { "logs": [ … ], "vehicle": … } ] was expected.`,
    )
  const here = dirname(resolve(path))
  return parsed.data.map(({ logs, why, ...beside }) => {
    const paths = logs.map((each) => resolve(here, each))
    const files = Object.fromEntries(
      Object.entries(beside).map(([key, file]) => [key, resolve(here, file!)]),
    ) as Beside
    return {
      folder: dirname(paths[0]!),
      logs: paths,
      beside: files,
      why: why ?? 'as the list of groups says',
    }
  })
}
