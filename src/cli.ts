#!/usr/bin/env node
import { access, writeFile } from 'node:fs/promises'
import { resolve } from 'node:path'
import type { Drive } from '../shared/drive.ts'
import type { Review } from '../shared/review.ts'
import type { Vehicle } from '../shared/vehicle.ts'
import { VERSION } from '../shared/version.ts'
import { visible } from '../shared/visible.ts'
import { type OPTIONS, parse, TAKES, USAGE, type Values } from './command-line.ts'
import { failure, LogError } from './errors.ts'

async function main(args: readonly string[]): Promise<number> {
  const [command = '', ...rest] = args
  if (command === '' || command === 'help' || command === '--help' || command === '-h') {
    process.stdout.write(USAGE)
    return command === '' ? 2 : 0
  }
  if (command === '--version') return sayVersion()
  const takes = TAKES[command]
  if (!takes)
    throw new LogError(
      'usage',
      `aftermile: there is no command "${command}"; review, channels, look, serve, batch, worker, library and car were expected.`,
    )
  const { values, positionals } = parse(rest)
  if (values.help) {
    process.stdout.write(USAGE)
    return 0
  }
  if (values.version) return sayVersion()
  for (const option of Object.keys(values) as (keyof typeof OPTIONS)[])
    if (option !== 'trace' && !takes.includes(option))
      throw new LogError('usage', `aftermile ${command}: takes no --${option}; see aftermile --help.`)
    else if ([values[option]].flat().includes(''))
      throw new LogError('usage', `aftermile ${command}: --${option} is empty; see aftermile --help.`)
  if (command === 'review') return review(positionals, values)
  if (command === 'channels') return channels(positionals, values)
  if (command === 'look') return look(positionals, values)
  if (command === 'serve') return serve(positionals, values)
  if (command === 'car') {
    const { runCar } = await import('./cars/command.ts')
    return runCar(positionals, values, (text) => process.stdout.write(visible(text)))
  }
  const complain = (text: string) => process.stderr.write(text)
  if (command === 'batch') {
    const { runBatch } = await import('./batch/command.ts')
    return runBatch(positionals, values, (text) => process.stdout.write(text), complain)
  }
  if (command === 'worker') {
    if (positionals.length > 0) throw new LogError('usage', `aftermile worker: takes no "${positionals[0]}".`)
    const { runWorker } = await import('./batch/worker.ts')
    return runWorker(values, complain)
  }
  const { runLibrary } = await import('./library/command.ts')
  return runLibrary(positionals, values, (text) => process.stdout.write(visible(text)))
}

function sayVersion(): number {
  process.stdout.write(`aftermile ${VERSION}\n`)
  return 0
}

/** An option that changed nothing is said, or a person believes that it did. */
function sayIgnored(what: string): void {
  process.stderr.write(visible(`aftermile: ${what}\n`))
}

async function review(paths: readonly string[], values: Values): Promise<number> {
  const { TABLE_NAMES } = await import('./tables/columns.ts')
  if (values.table !== undefined && values.json)
    throw new LogError('usage', 'aftermile review: --json and --table ask for two outputs; one was expected.')
  if (values.table !== undefined && !(TABLE_NAMES as readonly string[]).includes(values.table))
    throw new LogError(
      'usage',
      `aftermile review: there is no table "${values.table}"; ${TABLE_NAMES.join(', ')} were expected.`,
    )
  if (values.full && (values.json || values.table !== undefined))
    sayIgnored(`--full was not used: ${values.json ? '--json gives everything' : '--table gives one table'}.`)
  const format = await formatOf(values)
  const { drive, vehicle } = await open('review', paths, values)
  const { exitStatus, reviewDrive } = await import('./review/review.ts')
  const { profileText, startProfile } = await import('./review/profile.ts')
  if (values.profile) startProfile()
  const readings =
    values.readings === undefined
      ? []
      : (await import('./open/readings-file.ts')).readReadings(values.readings)
  const alone: Review = reviewDrive(drive, vehicle, readings)
  process.stderr.write(profileText())
  const beside = values.save || values.with !== undefined
  const made = beside ? await trying(() => kept(alone, vehicle, values), alone) : alone
  // What was computed is printed first: a sheet or a store that fails takes nothing from it.
  if (values.table !== undefined) {
    const { tableCsv } = await import('./tables/table-csv.ts')
    process.stdout.write(tableCsv(made, values.table))
  } else if (values.json) {
    const { toJson } = await import('./report/json.ts')
    process.stdout.write(toJson(made))
  } else {
    const { toText } = await import('./report/text.ts')
    process.stdout.write(toText(made, { colour: colour(), width: columns(), full: values.full === true }))
  }
  const { report } = values
  if (report !== undefined)
    await trying(async () => {
      const { toHtml } = await import('./report/html.ts')
      await write(
        report,
        toHtml(made, drive, { ...titled(made, vehicle), record: vehicle.record, words: vehicle }),
      )
    }, undefined)
  const { out } = values
  if (out !== undefined)
    await trying(async () => {
      const { writeOut } = await import('./out/write-out.ts')
      for (const path of await writeOut(out, format, { drive, review: made, vehicle }))
        process.stderr.write(visible(`written: ${path}\n`))
    }, undefined)
  if (values.save)
    await trying(async () => {
      const { saveDrive } = await import('./library/save.ts')
      const id = await saveDrive({
        paths,
        drive,
        review: made,
        vehicle,
        dataDir: values.data,
        offsets: offsetsOf('review', values),
        ...fileOptions(values),
      })
      process.stderr.write(`kept as ${id}\n`)
    }, undefined)
  return failed ?? exitStatus(made)
}

/** The format of `--out`. */
async function formatOf({ out, format = 'parquet' }: Values) {
  const { FORMATS } = await import('./out/write-out.ts')
  const known = FORMATS.find((each) => each === format)
  if (!known)
    throw new LogError(
      'usage',
      `aftermile review: there is no format "${format}"; ${FORMATS.join(', ')} were expected.`,
    )
  if (out !== undefined && /\.parquet$/i.test(out) && known !== 'parquet')
    throw new LogError(
      'usage',
      `aftermile review: ${out} is no ${known}; a folder goes with --format ${known}.`,
    )
  return known
}

/** Exit status of what failed after the review was computed; undefined where nothing did. */
let failed: number | undefined

/** Does a thing beside the review; where it fails, that is said and the review goes on. */
async function trying<T>(what: () => T | Promise<T>, otherwise: T): Promise<T> {
  try {
    return await what()
  } catch (error) {
    failed ??= sayFailure(error)
    return otherwise
  }
}

/** Says what went wrong on standard error; gives the exit status that it means. */
function sayFailure(error: unknown): 2 | 4 {
  const { status, text } = failure(error, process.argv.includes('--trace'))
  process.stderr.write(text)
  return status
}

/** The sheet's title: the car and the day where they are known. */
function titled(review: Review, vehicle: Vehicle): { title?: string } {
  if (vehicle.name === undefined) return {}
  const day = review.drive.started_at?.slice(0, 10)
  return { title: day ? `${vehicle.name}, ${day}` : vehicle.name }
}

/** The review beside the stored drives of its car (`--with CAR`, or the vehicle file's where it is saved). */
async function kept(review: Review, vehicle: Vehicle, values: Values): Promise<Review> {
  const { besideEarlier } = await import('./library/beside-earlier.ts')
  const { drivesIn } = await import('./library/library.ts')
  const { openPlace } = await import('./library/place.ts')
  const place = openPlace(values.data)
  const car = values.with?.trim() ?? vehicle.name
  const own = values.with === undefined ? [] : drivesIn(place).filter((each) => each.car?.trim() === car)
  if (values.with !== undefined && own.length === 0)
    throw new LogError(
      'no-such-car',
      `aftermile review: no stored drive is of a car "${car}"; aftermile car lists the cars.`,
    )
  return besideEarlier(place, car, review, undefined, vehicle.kit ?? own[0]?.kit ?? undefined, vehicle)
}

async function channels(paths: readonly string[], values: Values): Promise<number> {
  const { drive } = await open('channels', paths, values)
  const { channelsJson, channelsText } = await import('./report/channels-text.ts')
  process.stdout.write(values.json ? channelsJson(drive) : visible(channelsText(drive)))
  return 0
}

async function look(paths: readonly string[], values: Values): Promise<number> {
  const { runLook } = await import('./look/command.ts')
  const { text, table } = await runLook(paths, values)
  const out = values.out
  process.stdout.write(values.json ? text : visible(text))
  if (out !== undefined) await write(out, table)
  return 0
}

async function serve(positionals: readonly string[], values: Values): Promise<number> {
  if (positionals.length > 0) throw new LogError('usage', `aftermile serve: takes no "${positionals[0]}".`)
  const port = values.port === undefined ? undefined : Number(values.port)
  if (port !== undefined && !(Number.isInteger(port) && port >= 0 && port < 65536))
    throw new LogError(
      'usage',
      `aftermile serve: --port ${values.port} is not a port; 0 to 65535 was expected.`,
    )
  const { serve: listen } = await import('./server/listen.ts')
  const { url } = await listen({ dataDir: values.data, port })
  process.stdout.write(`${url}\n`)
  await new Promise(() => {})
  return 0
}

async function open(
  command: string,
  paths: readonly string[],
  values: Values,
): Promise<{ drive: Drive; vehicle: Vehicle }> {
  if (paths.length === 0)
    throw new LogError(
      'usage',
      `aftermile ${command}: no log was named; at least one was expected, such as aftermile ${command} drive.csv.`,
    )
  checkPaths(paths)
  if (values.signals !== undefined) await checkThere(values.signals, 'a signal table')
  const { openDrive } = await import('./open/open-drive.ts')
  const { readVehicleFile, unknownFields } = await import('./open/vehicle-file.ts')
  const { progressBar } = await import('./report/progress.ts')
  const vehicle = values.vehicle === undefined ? {} : await readVehicleFile(values.vehicle)
  if (values.vehicle !== undefined)
    for (const field of await unknownFields(values.vehicle))
      process.stderr.write(`${values.vehicle}: field ${field} is not known and was passed over.\n`)
  const offsets = offsetsOf(command, values)
  if (offsets.length > Math.max(0, paths.length - 1))
    throw new LogError(
      'usage',
      `aftermile ${command}: ${offsets.length} offsets for ${paths.length} logs; one for each log after the first was expected.`,
    )
  // A review of logs alone never reads the library; what was corrected on the page counts where drives are kept.
  const remembered =
    values.save || values.data !== undefined
      ? await trying(
          async () => (await import('./library/remembered.ts')).rememberedMaps(values.data),
          undefined,
        )
      : undefined
  const bar = progressBar(process.stderr)
  try {
    const drive = await openDrive(paths, {
      ...fileOptions(values),
      vehicle,
      ...(remembered ? { remembered } : {}),
      progress: bar.show,
      ...(offsets.length > 0 ? { offsets } : {}),
    })
    bar.clear()
    if (values.signals !== undefined && !drive.files.some(({ layout }) => /frame|pcap/.test(layout)))
      sayIgnored(
        `--signals ${values.signals} was not used: no log holds frames, their columns name themselves.`,
      )
    return { drive, vehicle: values.vehicle === undefined ? (drive.vehicle ?? {}) : vehicle }
  } finally {
    bar.clear()
  }
}

/** A vehicle file among the logs, or the same log twice, is a slip that a sentence can put right. */
function checkPaths(paths: readonly string[]): void {
  for (const [at, path] of paths.entries()) {
    if (/\.json$/i.test(path))
      throw new LogError(
        'usage',
        `${path}: a JSON file is no log; a vehicle file goes with --vehicle, a signal table with --signals.`,
      )
    if (paths.findIndex((other) => resolve(other) === resolve(path)) < at)
      throw new LogError('usage', `${path}: is named twice; each log of the drive was expected once.`)
  }
}

async function checkThere(path: string, what: string): Promise<void> {
  try {
    await access(path)
  } catch {
    throw new LogError('usage', `${path}: there is no such file; ${what} was expected.`)
  }
}

/** Seconds for the second, third … log. */
function offsetsOf(command: string, values: Values): number[] {
  return (values.offset ?? []).map((text) => {
    const seconds = Number(text)
    if (text.trim() === '' || !Number.isFinite(seconds))
      throw new LogError(
        'usage',
        `aftermile ${command}: --offset "${text}" is no number of seconds; such as --offset 12.5 was expected.`,
      )
    return seconds
  })
}

function fileOptions(values: Values): { signals?: string; map?: string } {
  return {
    ...(values.signals === undefined ? {} : { signals: values.signals }),
    ...(values.map === undefined ? {} : { map: values.map }),
  }
}

async function write(path: string, text: string): Promise<void> {
  try {
    await writeFile(path, text)
  } catch (error) {
    throw new LogError(
      'unwritable',
      `${path}: cannot be written (${(error as NodeJS.ErrnoException).code ?? error}).`,
    )
  }
}

/** As wide as the terminal, where there is one, but never too wide to read. */
function columns(): number {
  return Math.min(110, Math.max(50, process.stdout.columns ?? 100))
}

function colour(): boolean {
  return process.stdout.isTTY === true && process.env.NO_COLOR === undefined
}

process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  // A reader such as `head` that closes the pipe has what it wanted.
  if (error.code === 'EPIPE') process.exit()
  process.exit(sayFailure(error))
})

try {
  process.exitCode = await main(process.argv.slice(2))
} catch (error) {
  process.exitCode = sayFailure(error)
}
