/**
 * One command in a fresh process, as a person runs it: `node review-once.mjs DIST METHOD FILE [SIGNALS]`. Prints one line
 * of JSON on standard error: milliseconds from the process's start, processor time of all threads, peak memory in MB.
 *
 *     review    the whole review, as JSON
 *     channels  the import alone
 *     loop      each byte of the file looked at once, delimiters counted: no reader goes below it
 */
import { closeSync, existsSync, openSync, readFileSync, readSync } from 'node:fs'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'

const [, , dist, method, file, signals] = process.argv

process.on('exit', () => {
  const { user, system } = process.cpuUsage()
  process.stderr.write(
    `${JSON.stringify({
      ms: performance.now(),
      cpuMs: (user + system) / 1e3,
      peakMb: peakKb() / 1e3,
    })}\n`,
  )
})

/** What `resourceUsage` gives begins, on Linux, with the memory of the process that started this one. */
function peakKb() {
  const status = existsSync('/proc/self/status') ? readFileSync('/proc/self/status', 'latin1') : ''
  return Number(/VmHWM:\s*(\d+)/.exec(status)?.[1] ?? process.resourceUsage().maxRSS)
}

if (method === 'loop') loop(file)
else {
  const options = signals === undefined ? [] : ['--signals', signals]
  process.argv = [process.argv[0], 'aftermile', method, file, ...options, '--json']
  await import(pathToFileURL(join(dist, 'src/cli.js')).href)
}

function loop(path) {
  const from = openSync(path, 'r')
  const piece = new Uint8Array(1 << 20)
  let found = 0
  for (let read = readSync(from, piece); read > 0; read = readSync(from, piece))
    for (let i = 0; i < read; i++) if (piece[i] === 44 || piece[i] === 10) found++
  closeSync(from)
  process.stdout.write(`${found}\n`)
}
