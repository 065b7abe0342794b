import {
  closeSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  writeSync,
} from 'node:fs'
import { dirname, join } from 'node:path'
import { LogError } from '../errors.ts'

/** Who may look into what is stored: its owner alone. */
export const OWN_FOLDER = 0o700

/** Only tests set it: the step of a write at which the process kills itself, as if the power had gone. */
const KILL_AT = process.env.AFTERMILE_KILL_AT

export function step(name: string): void {
  if (KILL_AT === name) process.kill(process.pid, 'SIGKILL')
}

/** Writes a file so that it is on the disk when this returns. */
export function writeDurably(path: string, what: string | Uint8Array): void {
  const file = openSync(path, 'w', 0o600)
  try {
    const bytes = Buffer.from(what as string)
    for (let done = 0; done < bytes.length; ) done += writeSync(file, bytes, done)
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
}

/** A folder's own entries reach the disk: what was renamed in it stays renamed. */
export function syncFolder(folder: string): void {
  const file = openSync(folder, 'r')
  try {
    fsyncSync(file)
  } catch (error) {
    // some file systems have no such call for folders
    if (!['EINVAL', 'ENOTSUP', 'EPERM'].includes((error as NodeJS.ErrnoException).code ?? '')) throw error
  } finally {
    closeSync(file)
  }
}

/** Every file and folder below reaches the disk. */
export function syncTree(folder: string): void {
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name)
    if (entry.isDirectory()) {
      syncTree(path)
      continue
    }
    const file = openSync(path, 'r+')
    try {
      fsyncSync(file)
    } finally {
      closeSync(file)
    }
  }
  syncFolder(folder)
}

let asides = 0

/** Writes a file aside, then renames it: a reader sees the old one or the new one, never half of one. */
export function writeAside(path: string, what: string | Uint8Array): void {
  mkdirSync(dirname(path), { recursive: true, mode: OWN_FOLDER })
  const aside = `${path}.${process.pid}-${asides++}.aside`
  try {
    writeDurably(aside, what)
    step('aside-written')
    renameSync(aside, path)
  } catch (error) {
    rmSync(aside, { force: true })
    throw error
  }
  syncFolder(dirname(path))
}

const WORDS: Readonly<Record<string, string>> = {
  ENOSPC: 'the disk is full',
  EDQUOT: 'the disk’s quota is used up',
  EROFS: 'the disk is read-only',
  EACCES: 'the rights to write there are missing',
  EPERM: 'the rights to write there are missing',
  EMFILE: 'too many files are open',
  ENFILE: 'too many files are open',
  EIO: 'the disk gave an error',
  EFBIG: 'a file would be larger than the disk takes',
}

/** What the system refused, in words; null where it was nothing that can be expected of a disk. */
export function diskFault(error: unknown): string | null {
  return WORDS[(error as NodeJS.ErrnoException | null)?.code ?? ''] ?? null
}

/** Does it; an expected fault of the disk becomes one sentence without a path. */
export function onDisk<T>(what: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    const why = diskFault(error)
    if (why === null || error instanceof LogError) throw error
    throw new LogError('disk', `${what}: ${why}. Nothing that was stored before has changed.`)
  }
}
