#!/usr/bin/env node
import { parseArgs } from 'node:util'
import { LogError } from './errors.ts'
import { openDrive } from './importers/open-drive.ts'
import { toJson } from './report/json.ts'
import { toText } from './report/text.ts'
import { exitStatus, reviewDrive } from './review.ts'
import { readVehicleFile } from './vehicle-file.ts'

async function main(args: readonly string[]): Promise<number> {
  const [command, ...rest] = args
  if (command !== 'review') throw new LogError('usage', `aftermile: unknown command ${command ?? '(none)'}.`)
  const { values, positionals } = parseArgs({
    args: rest,
    allowPositionals: true,
    options: { vehicle: { type: 'string' }, json: { type: 'boolean' } },
  })
  const vehicle = values.vehicle ? await readVehicleFile(values.vehicle) : {}
  const review = reviewDrive(await openDrive(positionals, { vehicle }), vehicle)
  process.stdout.write(values.json ? toJson(review) : toText(review))
  return exitStatus(review)
}

try {
  process.exitCode = await main(process.argv.slice(2))
} catch (error) {
  if (!(error instanceof LogError)) throw error
  process.stderr.write(`${error.message}\n`)
  process.exitCode = 2
}
