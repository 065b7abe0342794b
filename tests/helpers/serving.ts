import { execFileSync } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Serving, serve } from '../../src/server/listen.ts'

const HOME = join(import.meta.dirname, '..', '..')

export interface TestServing extends Serving {
  readonly dataDir: string
}

/** The server on a free port over an empty data directory that goes away with it. */
export async function serveForTest(): Promise<TestServing> {
  const dataDir = mkdtempSync(join(tmpdir(), 'aftermile-test-'))
  const serving = await serve({ dataDir, port: 0 })
  return {
    ...serving,
    dataDir,
    async close() {
      await serving.close()
      rmSync(dataDir, { recursive: true, force: true })
    },
  }
}

/** Builds the page where its sources are newer than the last build. */
export function buildPage(): void {
  const built = join(HOME, 'dist', 'web', 'index.html')
  const newest = Math.max(...['web', 'shared'].map((folder) => newestIn(join(HOME, folder))))
  if (existsSync(built) && statSync(built).mtimeMs > newest) return
  execFileSync('npm', ['run', '--silent', 'build:web'], { cwd: HOME, stdio: 'inherit' })
}

function newestIn(folder: string): number {
  let newest = 0
  for (const entry of readdirSync(folder, { withFileTypes: true, recursive: true }))
    if (entry.isFile()) newest = Math.max(newest, statSync(join(entry.parentPath, entry.name)).mtimeMs)
  return newest
}
