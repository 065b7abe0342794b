import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { SAMPLES } from './samples.ts'

/** Writes `sample-logs/`, the same bytes every time: `npm run samples`. */
const root = join(import.meta.dirname, '../../sample-logs')

for (const sample of SAMPLES) {
  const folder = join(root, sample.name)
  mkdirSync(folder, { recursive: true })
  for (const file of sample.files()) {
    writeFileSync(join(folder, file.name), file.bytes)
    console.log(`${sample.name}/${file.name}  ${(file.bytes.length / 1000).toFixed(1)} kB`)
  }
}
