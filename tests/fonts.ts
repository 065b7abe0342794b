import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/**
 * The browser tests with one folder of system fonts at a time: the page brings its own type, so no width may depend
 * on what a machine has.
 *
 *     npm run test:fonts
 */
const SETS = [
  { folder: '/usr/share/fonts/truetype/dejavu', from: 'fonts-dejavu-core' },
  { folder: '/usr/share/fonts/truetype/liberation', from: 'fonts-liberation' },
]

let failed = 0
for (const { folder, from } of SETS) {
  if (!existsSync(folder) && process.getuid?.() === 0)
    spawnSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', from], { stdio: 'inherit' })
  if (!existsSync(folder)) {
    console.error(`${folder} is missing: install ${from} ("apt-get install ${from}" as root on Debian).`)
    process.exit(2)
  }
  const home = mkdtempSync(join(tmpdir(), 'aftermile-fonts-'))
  const file = join(home, 'fonts.conf')
  writeFileSync(
    file,
    `<?xml version="1.0"?><fontconfig><dir>${folder}</dir><cachedir>${join(home, 'cache')}</cachedir></fontconfig>`,
  )
  console.log(`\nFonts: ${folder}`)
  const run = spawnSync('npx', ['vitest', 'run', 'tests/web'], {
    stdio: 'inherit',
    env: { ...process.env, FONTCONFIG_FILE: file },
  })
  if (run.status !== 0) failed++
}
console.log(`\n${SETS.length - failed} passed, ${failed} failed`)
process.exitCode = failed === 0 ? 0 : 1
