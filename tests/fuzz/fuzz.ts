import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { LogError } from '../../src/errors.ts'
import { luck } from './mutate.ts'
import type { Target } from './targets.ts'

export interface Failure {
  readonly target: string
  readonly seed: number
  readonly why: string
}

/** Longer than this for at most 4 KB is a hang, ms of one mutant. */
const HANG_MS = 10_000

/** Reads one mutant; null where it was read, or refused with a sentence. The same seed makes the same mutant. */
export async function tryOne(target: Target, seed: number, keepIn?: string): Promise<Failure | null> {
  const random = luck(seed)
  const example = target.examples[Math.floor(random() * target.examples.length)]!
  const bytes = target.mutate(example, random)
  const folder = mkdtempSync(join(tmpdir(), 'aftermile-fuzz-'))
  const began = performance.now()
  let why: string | null = null
  try {
    await target.read(bytes, folder)
  } catch (error) {
    if (!(error instanceof LogError)) why = String((error as Error)?.stack ?? error)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
  const tookMs = performance.now() - began
  if (why === null && tookMs > HANG_MS) why = `took ${(tookMs / 1000).toFixed(1)} s`
  if (why === null) return null
  if (keepIn !== undefined) writeFileSync(join(keepIn, `${target.name.replaceAll(' ', '-')}-${seed}`), bytes)
  return { target: target.name, seed, why }
}
