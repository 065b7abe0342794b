import { spawnSync } from 'node:child_process'
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { type Failure, HANG_MS, keep } from './fuzz.ts'
import { luck } from './mutate.ts'
import { signalsIn, TARGETS } from './targets.ts'

const CLI = join(import.meta.dirname, '../../dist/src/cli.js')
/** Writes what the process took at its end: `AFTERMILE_PEAK` names the file. */
const PEAK = `data:text/javascript,${encodeURIComponent(
  "import{writeFileSync}from'node:fs';process.on('exit',()=>{const u=process.resourceUsage();writeFileSync(process.env.AFTERMILE_PEAK,JSON.stringify({kib:u.maxRSS,ms:(u.userCPUTime+u.systemCPUTime)/1000}))})",
)}`
const LOGS = TARGETS.filter(({ group, name }) => group === 'reviews' && !name.includes('vehicle'))
/** Memory that a review may take: three times the unpacked log and this, KiB. A mutant is at most 4 KB. */
const MOST_KIB = 256 * 1024

/** Reviews one mutant in a process of its own; null where it ended by the contract, within time and memory. */
export function tryProcess(seed: number, folder: string, keepIn?: string): Failure | null {
  if (!existsSync(CLI)) throw new Error('Build first: npm run build:src')
  const random = luck(seed)
  const target = LOGS[Math.floor(random() * LOGS.length)]!
  const bytes = target.mutate(target.examples[Math.floor(random() * target.examples.length)]!, random)
  const [log, peak] = [join(folder, 'log'), join(folder, 'peak')]
  writeFileSync(log, bytes)
  rmSync(peak, { force: true })
  const signals = ['--signals', signalsIn(folder)]
  const takesSignals = /frames|captures/.test(target.name)
  const { status, signal, stderr } = spawnSync(
    process.execPath,
    ['--import', PEAK, CLI, 'review', log, '--json', ...(takesSignals ? signals : [])],
    { env: { ...process.env, AFTERMILE_PEAK: peak }, timeout: 120_000, encoding: 'utf8' },
  )
  const why = trouble(status, signal, stderr, peak)
  if (why === null) return null
  if (keepIn !== undefined) keep(join(keepIn, `process-${seed}`), bytes)
  return { target: `process, ${target.name}`, seed, why }
}

function trouble(status: number | null, signal: string | null, stderr: string, peak: string): string | null {
  if (signal !== null) return `ended by ${signal}`
  if (status === null || status > 3) return `exit ${status}: ${stderr.slice(0, 300)}`
  if (/\n\s+at /.test(stderr)) return `a trace: ${stderr.slice(0, 300)}`
  const { kib, ms } = JSON.parse(readFileSync(peak, 'utf8')) as { kib: number; ms: number }
  if (ms > HANG_MS) return `took ${(ms / 1000).toFixed(1)} s`
  return kib > MOST_KIB ? `took ${Math.round(kib / 1024)} MB` : null
}
