import { execFileSync } from 'node:child_process'
import { join } from 'node:path'

const ROOT = join(import.meta.dirname, '../..')

/** The program built as it is shipped, beside the project's own build: what runs is this very source. Gives cli.js. */
export function ownBuild(): string {
  const folder = join(ROOT, 'node_modules/.cache/aftermile-batch/dist')
  execFileSync('npx', ['tsc', '-p', 'src/tsconfig.json', '--outDir', folder], { cwd: ROOT, stdio: 'inherit' })
  return join(folder, 'src/cli.js')
}
