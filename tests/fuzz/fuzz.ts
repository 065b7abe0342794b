import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname } from 'node:path'
import { LogError } from '../../src/errors.ts'
import { luck } from './mutate.ts'
import type { Target } from './targets.ts'

export interface Failure {
  readonly target: string
  readonly seed: number
  readonly why: string
}

/** More computing than this for at most 4 KB is a hang, ms. Waiting does not count: the machine may be busy. */
export const HANG_MS = 10_000

/**
 * Reads one mutant; null where it was read, or refused with a sentence. The same seed makes the same mutant.
 * @param folder where the mutant is written for its reader; its own, used again
 */
export async function tryOne(
  target: Target,
  seed: number,
  folder: string,
  keepIn?: string,
): Promise<Failure | null> {
  const random = luck(seed)
  const example = target.examples[Math.floor(random() * target.examples.length)]!
  const bytes = target.mutate(example, random)
  const why = await complaint(target, bytes, folder)
  if (why === undefined) return null
  if (keepIn !== undefined) keep(`${keepIn}/${target.name.replaceAll(' ', '-')}-${seed}`, bytes)
  return { target: target.name, seed, why }
}

/** What is wrong with reading these bytes; computing is counted only where the wall clock says that there was much. */
async function complaint(
  target: Target,
  bytes: Uint8Array,
  folder: string,
  counted = false,
): Promise<string | undefined> {
  // getrusage takes as long as reading a small mutant
  const began = counted ? process.cpuUsage() : performance.now()
  try {
    await target.read(bytes, folder)
  } catch (error) {
    if (!(error instanceof LogError)) return String((error as Error)?.stack ?? error)
  }
  if (typeof began === 'number')
    return performance.now() - began > HANG_MS ? complaint(target, bytes, folder, true) : undefined
  const { user, system } = process.cpuUsage(began)
  const tookMs = (user + system) / 1000
  return tookMs > HANG_MS ? `took ${(tookMs / 1000).toFixed(1)} s` : undefined
}

export function keep(path: string, bytes: Uint8Array): void {
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, bytes)
}
