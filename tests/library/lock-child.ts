import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { withLock } from '../../src/library/lock.ts'

/** Counts up a number in a file under the lock, over and over: DATA TIMES. Two at once in there would lose a count. */
const [data = '', times = '1'] = process.argv.slice(2)
const path = join(data, 'count')
for (let n = 0; n < Number(times); n++)
  withLock(data, () => {
    const count = Number(readFileSync(path, 'utf8'))
    Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 1)
    writeFileSync(path, String(count + 1))
  })
