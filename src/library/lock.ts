import { linkSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { join } from 'node:path'
import { LogError } from '../errors.ts'

/** Longer than any step that is done under it; who waits longer is told. */
const PATIENCE_MS = 20_000

/** This process, so that others can tell whether it still runs: host, number, and when it began. */
export function ownerText(): string {
  return `${hostname()} ${process.pid} ${beganAt(process.pid)}`
}

/** A file written aside (`NAME.PID-N.aside`) that no living process is at. */
export function isLeftAside(name: string): boolean {
  if (!name.endsWith('.aside')) return false
  const pid = /\.(\d+)-\d+\.aside$/.exec(name)?.[1]
  return pid === undefined || !isRunning(`${hostname()} ${pid} `)
}

/** When a process began, by the system's own count; empty where the system does not tell. */
function beganAt(pid: number): string {
  try {
    // after the name in brackets, which may hold blanks: state is the 1st, the start time the 20th
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8')
    return text.slice(text.lastIndexOf(')') + 2).split(' ')[19] ?? ''
  } catch {
    return ''
  }
}

/** Does the process that wrote this still run? One on another machine is taken to. */
export function isRunning(owner: string): boolean {
  const [host, number, began = ''] = (owner.split('\n')[0] ?? '').trim().split(' ')
  if (host !== hostname()) return host !== '' && host !== undefined && number !== undefined
  const pid = Number(number)
  if (!Number.isInteger(pid) || pid <= 0) return false
  try {
    process.kill(pid, 0)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ESRCH') return false
  }
  const now = beganAt(pid)
  return began === '' || now === '' || now === began
}

/** Does something that one process alone may do in a data directory. A holder that died keeps nobody out. */
export function withLock<T>(dataDir: string, work: () => T): T {
  const path = join(dataDir, 'lock')
  const own = `${path}.${process.pid}-${Math.random().toString(36).slice(2)}`
  // Linked whole: nobody ever sees a lock without its owner's name in it.
  writeFileSync(own, `${ownerText()}\n${own}\n`, { mode: 0o600 })
  try {
    const until = Date.now() + PATIENCE_MS
    for (let waitMs = 2; !take(own, path); waitMs = Math.min(50, waitMs * 2)) {
      if (Date.now() > until)
        throw new LogError(
          'busy',
          'Another program is writing in the data directory; try again when it is done.',
        )
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, waitMs * (0.5 + Math.random()))
    }
    try {
      return work()
    } finally {
      rmSync(path, { force: true })
    }
  } finally {
    rmSync(own, { force: true })
  }
}

function take(own: string, path: string): boolean {
  try {
    linkSync(own, path)
    return true
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error
  }
  if (isLeft(path)) breakLock(own, path)
  return false
}

/**
 * Takes away a lock that a dead process left. One breaker at a time: a lock seen as dead is let go by nobody else, so it
 * is the same one when it is removed.
 */
function breakLock(own: string, path: string): void {
  const breaking = `${path}.breaking`
  try {
    linkSync(own, breaking)
  } catch {
    if (isLeft(breaking)) rmSync(breaking, { force: true })
    return
  }
  try {
    if (isLeft(path)) rmSync(path, { force: true })
  } finally {
    rmSync(breaking, { force: true })
  }
}

function isLeft(path: string): boolean {
  const holder = textOf(path)
  return holder !== null && !isRunning(holder)
}

function textOf(path: string): string | null {
  try {
    return readFileSync(path, 'utf8')
  } catch {
    return null
  }
}
