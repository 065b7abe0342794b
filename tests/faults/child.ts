import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { annotateDrive, removeDrive } from '../../src/library/library.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/**
 * One write to a library, to be killed on the way: DATA save|replace|remove|notes ID WORD [TIMES]. Prints `begun` when it
 * starts writing.
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
  else storeDrive(place, { drive, review, vehicle: {}, logs: [{ path: log, name: word }], id, title: word })
