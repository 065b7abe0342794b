import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { openDrive } from '../src/open/open-drive.ts'
import { readVehicleFile } from '../src/open/vehicle-file.ts'
import { toHtml } from '../src/report/html.ts'
import { threeLines, toText } from '../src/report/text.ts'
import { reviewDrive } from '../src/review/review.ts'
import { startBrowser } from './helpers/browser.ts'

/**
 * How long the answers are: lines of the terminal text (short, and whole), and A4 pages of the sheet as a browser prints it,
 * for the samples and the drives in `../shared`; page 1 must be one page that stands alone.
 *
 *     npm run lengths -- [folder of drives…] [--keep=FOLDER: the sheets and their PDFs are written there] [--without-vehicle]
 */
const argv = process.argv.slice(2)
const root = join(import.meta.dirname, '..')
const given = argv.filter((each) => !each.startsWith('--'))
const folders =
  given.length > 0
    ? given
    : ['sample-logs', '../shared/logs', '../shared/other-physics'].map((each) => join(root, each))
const keep = argv.find((each) => each.startsWith('--keep='))?.slice(7)
const bare = argv.includes('--without-vehicle')

interface Listed {
  readonly files: readonly string[]
  readonly signals: string | null
}

const lines = (text: string): number => text.trimEnd().split('\n').length
const browser = await startBrowser()
const page = await browser.newPage()
console.log('drive | three lines | short | full | sheet, pages | front, pages')
for (const folder of folders.filter((each) => existsSync(each)))
  for (const entry of readdirSync(folder, { withFileTypes: true }).filter((each) => each.isDirectory())) {
    const at = (file: string): string => join(folder, entry.name, file)
    const list = ['truth.json', 'expected.json'].map(at).find((each) => existsSync(each))
    if (list === undefined) continue
    const { files, signals } = JSON.parse(readFileSync(list, 'utf8')) as Listed
    const vehicle = !bare && existsSync(at('vehicle.json')) ? await readVehicleFile(at('vehicle.json')) : {}
    const drive = await openDrive(files.map(at), { vehicle, ...(signals ? { signals: at(signals) } : {}) })
    const review = reviewDrive(drive, vehicle)
    const html = toHtml(review, drive, {
      title: vehicle.name ?? entry.name,
      record: vehicle.record,
      words: vehicle,
    })
    const name = `${basename(folder)}-${entry.name}`
    const all = await pages(html, keep && join(keep, `${name}.pdf`))
    const front = await pages(html.replace(/<h1 class="annex">[\s\S]*?<\/main>/, '</main>'))
    if (keep !== undefined) writeFileSync(join(keep, `${name}.html`), html)
    console.log(
      `${name} | ${lines(threeLines(review, name))} | ${lines(toText(review))} | ${lines(toText(review, { full: true }))} | ${all} | ${front}`,
    )
  }
await browser.close()

/** A4 pages that a browser prints a sheet on. */
async function pages(html: string, path?: string): Promise<number> {
  if (keep !== undefined) mkdirSync(keep, { recursive: true })
  await page.setContent(html, { waitUntil: 'load' })
  const pdf = await page.pdf({ format: 'A4', preferCSSPageSize: true, ...(path ? { path } : {}) })
  return pdf.toString('latin1').match(/\/Type\s*\/Page(?![s\w])/g)?.length ?? 0
}
