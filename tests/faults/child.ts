import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { annotateDrive, removeDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { Jobs } from '../../src/server/jobs.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/**
 * One write to a library, to be killed on the way: DATA save|replace|remove|notes|upload ID WORD [TIMES]. Prints `begun`
 * when it starts writing.
 */
const [data = '', what = '', id = '', word = '', times = '1'] = process.argv.slice(2)
const place = openPlace(data)
const drive = smallDrive()
const review = reviewDrive(drive, {})
const log = join(data, `log-${process.pid}.csv`)
if (what === 'save' || what === 'replace') writeFileSync(log, `time,word\n0,${word}\n`)
process.stdout.write('begun\n')
for (let n = 0; n < Number(times); n++)
  if (what === 'remove') removeDrive(place, id)
  else if (what === 'notes') annotateDrive(place, id, word)
  else if (what === 'upload') await upload()
  else storeDrive(place, { drive, review, vehicle: {}, logs: [{ path: log, name: word }], id, title: word })

/** A log sent as the page sends it, then imported. */
async function upload(): Promise<void> {
  const bytes = Buffer.from(`time_s,Pack current [A],${word}\n0,1,1\n1,2,1\n2,3,1\n`)
  const jobs = new Jobs(place, importAndStore, 1e6, () => {})
  const { id: job } = await jobs.announce({ files: [{ name: word, role: 'log', bytes: bytes.length }] })
  await jobs.receive(job, 0, Readable.from([bytes]))
  await jobs.start(job)
  await jobs.idle()
}
