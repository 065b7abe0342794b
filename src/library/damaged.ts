import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'
import type { DriveSummary } from '../../shared/api.ts'
import { LogError } from '../errors.ts'
import { currentFolder } from './generations.ts'
import type { LogFile } from './log-file.ts'
import type { Place } from './paths.ts'
import { STORED_VERSION } from './stored-drive.ts'

const HELP = 'Its logs can still be exported (aftermile library export) and reviewed again.'

/** Why a stored drive cannot be shown, in a sentence, with what can still be done. */
function troubleOf(json: unknown): string {
  const version = (json as { version?: unknown } | null)?.version
  return typeof version === 'number' && version > STORED_VERSION
    ? `This drive was stored by a newer version of the program (form ${version}, this one knows ${STORED_VERSION}): update the program. ${HELP}`
    : `This drive’s record is damaged or missing. ${HELP}`
}

/** The error where a drive is there and cannot be shown. */
export function cannotShow(json: unknown): LogError {
  return new LogError('damaged-drive', troubleOf(json))
}

/** A line for the list: the drive is there, and what is wrong with it stands where its worst finding would. */
export function damagedSummary(id: string, json: unknown, title: string | undefined): DriveSummary {
  const trouble = troubleOf(json)
  const known = z
    .object({ summary: z.object({ title: z.string(), car: z.string().nullable(), added_at: z.string() }) })
    .safeParse(json)
  const [, year, month, day, hour, minute, second] = /^(....)(..)(..)-(..)(..)(..)/.exec(id) ?? []
  return {
    id,
    title: title ?? known.data?.summary.title ?? `Drive ${id}`,
    car: known.data?.summary.car ?? null,
    added_at: known.data?.summary.added_at ?? `${year}-${month}-${day}T${hour}:${minute}:${second}Z`,
    started_at: null,
    duration_s: 0,
    distance_km: null,
    files: [],
    stop: 0,
    attention: 0,
    note: 0,
    not_assessed: 0,
    worst: trouble,
    unseen: ['start', 'pedal', 'pack'],
    trouble,
  }
}

/** The logs that lie there, whatever else is lost; by their own names where the record still tells them. */
export function savedLogs(place: Place, id: string): LogFile[] {
  const folder = currentFolder(place, id)
  if (folder === null) throw new LogError('no-such-drive', 'There is no stored drive with this id.')
  const named = z
    .object({ logs: z.array(z.object({ name: z.string() })) })
    .safeParse(jsonOrNull(join(folder, 'drive.json')))
  let found: string[] = []
  try {
    found = readdirSync(join(folder, 'logs')).filter((name) => /^\d+$/.test(name))
  } catch {}
  return found
    .sort((a, b) => Number(a) - Number(b))
    .map((name) => ({
      path: join(folder, 'logs', name),
      name: named.data?.logs[Number(name) - 1]?.name ?? `log-${name}`,
    }))
}

/** What a JSON file holds; null where it is lost or damaged. */
export function jsonOrNull(path: string): unknown {
  try {
    return JSON.parse(readFileSync(path, 'utf8'))
  } catch {
    return null
  }
}
