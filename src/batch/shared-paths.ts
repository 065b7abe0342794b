import { join, relative, resolve, sep } from 'node:path'
import { LogError } from '../errors.ts'
import type { QueuedJob } from './queue.ts'

/** A job with its paths told from the shared folder, which may hang elsewhere on every machine. */
export function leave(queued: QueuedJob, shared: string | undefined): QueuedJob {
  if (shared === undefined) return queued
  const root = resolve(shared)
  return eachPath(queued, (path) => {
    const inside = relative(root, path)
    if (inside.startsWith('..') || inside === path)
      throw new LogError(
        'usage',
        `${path}: lies outside the shared folder ${shared}; all was expected in it.`,
      )
    return inside.split(sep).join('/')
  })
}

/** The same job as this machine sees it. */
export function arrive(queued: QueuedJob, shared: string | undefined): QueuedJob {
  return shared === undefined ? queued : eachPath(queued, (path) => join(resolve(shared), path))
}

function eachPath({ out, job }: QueuedJob, change: (path: string) => string): QueuedJob {
  const { vehicle, signals, map, logs, ...rest } = job
  const beside = Object.fromEntries(
    Object.entries({ vehicle, signals, map }).flatMap(([key, path]) =>
      path === undefined ? [] : [[key, change(path)]],
    ),
  )
  return {
    out: change(out),
    job: { ...rest, ...beside, logs: logs.map((log) => ({ ...log, path: change(log.path) })) },
  }
}
