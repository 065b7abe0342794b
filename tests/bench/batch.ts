import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { cpus, tmpdir } from 'node:os'
import { join } from 'node:path'
import { ownBuild } from '../helpers/own-build.ts'
import { writeTinyDrives } from '../helpers/tiny-logs.ts'

/** `npm run bench -- batch [drives]`: a batch of 200 short drives on one core and on two, in turn, each run twice. */
export function benchBatch(drives = 200): string[] {
  const cli = ownBuild()
  const root = mkdtempSync(join(tmpdir(), 'aftermile-bench-batch-'))
  const logs = join(root, 'logs')
  writeTinyDrives(logs, drives)
  const best = new Map<number, { s: number; cpuS: number }>()
  try {
    for (const _ of [1, 2])
      for (const cores of [1, 2]) {
        const out = join(root, `results-${cores}`)
        rmSync(out, { recursive: true, force: true })
        const began = performance.now()
        const run = spawnSync(
          'sh',
          [
            '-c',
            `"${process.execPath}" "${cli}" batch "${logs}" --out "${out}" --cores ${cores} >/dev/null 2>&1; times`,
          ],
          { encoding: 'utf8' },
        )
        const s = (performance.now() - began) / 1000
        const [user, system] = run.stdout.trim().split('\n').at(-1)!.split(' ').map(secondsOf)
        const stored = Number(execFileSync('sh', ['-c', `ls "${out}/records" | wc -l`], { encoding: 'utf8' }))
        if (stored !== drives) throw new Error(`${stored} of ${drives} drives were stored on ${cores} cores`)
        const before = best.get(cores)
        if (!before || s < before.s) best.set(cores, { s, cpuS: user! + system! })
      }
    const again = performance.now()
    spawnSync(process.execPath, [cli, 'batch', logs, '--out', join(root, 'results-2')], { stdio: 'ignore' })
    const againS = (performance.now() - again) / 1000
    const [one, two] = [best.get(1)!, best.get(2)!]
    return [
      `${cpus().length} × ${cpus()[0]?.model.trim()}, Node ${process.version}`,
      `A batch of ${drives} short drives (30 s, 9 columns), the better of two runs each`,
      ...[...best].map(
        ([cores, { s, cpuS }]) =>
          `  ${cores} ${cores === 1 ? 'core ' : 'cores'}  ${s.toFixed(1).padStart(6)} s  ${(drives / s).toFixed(1).padStart(6)} drives/s   processor ${cpuS.toFixed(1)} s`,
      ),
      `  two cores against one: ${(one.s / two.s).toFixed(2)} times as fast`,
      `  the same again, nothing to review: ${againS.toFixed(1)} s`,
    ]
  } finally {
    rmSync(root, { recursive: true, force: true })
  }
}

/** `0m1.25s` → 1.25 */
function secondsOf(text: string): number {
  const [, minutes = '0', seconds = '0'] = /(\d+)m([\d.]+)s/.exec(text) ?? []
  return 60 * Number(minutes) + Number(seconds)
}
