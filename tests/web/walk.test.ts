import { mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { writeDriveFile } from '../../src/out/write-out.ts'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/** The whole job as a person does it, in a real browser, on the sample drive with a badly torqued joint. */
let browser: Browser
let page: Page
let serving: TestServing
const complaints: string[] = []

beforeAll(async () => {
  buildPage()
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
  page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
  page.setDefaultTimeout(45_000)
  page.on('pageerror', (error) => complaints.push(error.message))
  page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()))
  page.on('request', (request) => {
    if (!request.url().startsWith(serving.url) && !/^(data|blob):/.test(request.url()))
      complaints.push(`asked elsewhere: ${request.url()}`)
  })
})
afterAll(async () => {
  await browser?.close()
  await serving?.close()
})

const JUNIPER = join(import.meta.dirname, '../../sample-logs/juniper')

/** The cell with which the bad joint is read: the sample's own truth. */
const CELL: number = JSON.parse(readFileSync(join(JUNIPER, 'expected.json'), 'utf8')).expect.find(
  ({ kind }: { kind: string }) => kind === 'joint-resistance-high',
).index
const JOINT = new RegExp(`joint between cells (${CELL - 1} and ${CELL}|${CELL} and ${CELL + 1})`)

/** Juniper's log as a box would write it whose current channel has a name that says nothing. */
function logWithOddName(): string {
  const text = gunzipSync(readFileSync(join(JUNIPER, 'road-test.csv.gz'))).toString('utf8')
  const renamed = text.replace('Battery current [A]', 'Zeta 7')
  expect(renamed).not.toBe(text)
  return renamed
}

/** Drops files on the page as the operating system would. */
async function drop(files: Readonly<Record<string, string>>): Promise<void> {
  const data = await page.evaluateHandle((all) => {
    const transfer = new DataTransfer()
    for (const [name, text] of Object.entries(all)) transfer.items.add(new File([text], name))
    return transfer
  }, files)
  await page.dispatchEvent('.drop', 'drop', { dataTransfer: data })
}

const shownSpan = () => page.locator('.chart-tools .shown').first().textContent()

it('goes from a dropped log to a printed sheet, and finds the drive again', async () => {
  await page.goto(serving.url)
  await drop({
    'road-test.csv': logWithOddName(),
    'vehicle.json': readFileSync(join(JUNIPER, 'vehicle.json'), 'utf8'),
  })
  await page.waitForURL(/#\/drive\/[^/]+\/findings/)

  // The column with the odd name is put right, and the drive is reviewed again.
  await page.getByRole('link', { name: 'Channels' }).click()
  await page.getByLabel('Find a column or channel').fill('Zeta')
  const row = page.locator('.channel-row', { hasText: 'Zeta 7' })
  await row.getByRole('button', { name: 'Correct Zeta 7' }).click()
  await row.getByLabel('This column is').fill('pack_current')
  await row.getByLabel('logged in').selectOption('A')
  await row.getByRole('button', { name: 'Read the logs again' }).click()
  await page
    .locator('.channel-row', { hasText: 'Zeta 7' })
    .getByText('Pack current', { exact: true })
    .waitFor()

  // The worst finding opens with its evidence.
  await page.getByRole('link', { name: 'Findings', exact: true }).click()
  const worst = page.locator('.card').first()
  await worst.getByText(JOINT).first().waitFor()
  const detail = page.getByRole('region', { name: 'The chosen finding' })
  await detail.getByRole('heading', { name: 'Do next' }).waitFor()
  // Closed, it keeps its next step and the care that it needs.
  await worst.getByRole('button').first().click()
  await worst.getByText(/^Next: .*micro-ohm meter/).waitFor()
  await worst.getByText(/^Take care: Modules stay live/).waitFor()
  await worst.getByRole('button').first().click()
  await detail.getByText('Do next').waitFor()
  // The fault is drawn as it looks; its channels over time are a press away.
  await detail.getByRole('img', { name: new RegExp(`^Cell ${CELL} less the median cell`) }).waitFor()
  await detail.getByRole('button', { name: 'Over time' }).click()
  await detail.getByText('Modules stay live', { exact: false }).first().waitFor()
  const chart = detail.locator('.chart-box').first()
  await chart.locator('canvas').waitFor()
  expect(await drawnPixels(chart)).toBeGreaterThan(500)

  // Zoom: by a box, by a key, by the button that shows all.
  await chart.scrollIntoViewIfNeeded()
  const before = await shownSpan()
  const box = (await chart.boundingBox())!
  await page.mouse.move(box.x + box.width * 0.4, box.y + 60)
  await page.mouse.down()
  await page.mouse.move(box.x + box.width * 0.6, box.y + 70, { steps: 4 })
  await page.mouse.up()
  const boxed = await shownSpan()
  expect(boxed).not.toBe(before)
  await chart.focus()
  await page.keyboard.press('+')
  await expect.poll(shownSpan).not.toBe(boxed)
  await detail.getByRole('button', { name: 'Whole drive' }).click()

  // "Show me" moves the Drive view there; two marks measure between them.
  await detail.getByRole('button', { name: 'Show me on the drive' }).click()
  await page.waitForURL(/\/drive(\?|$)/)
  // Without marks the read-out is of the stretch shown.
  const readOut = page.getByRole('region', { name: 'Read-out table' })
  await expect.poll(() => readOut.getByRole('cell').nth(2).textContent()).toMatch(/\d/)
  const first = page.locator('.chart-box').first()
  await first.focus()
  await page.keyboard.press('a')
  for (let i = 0; i < 20; i++) await page.keyboard.press('ArrowRight')
  await page.keyboard.press('b')
  await page.getByText('Δt', { exact: false }).waitFor()
  await page.getByLabel('Add a channel').fill('Speed')
  await page.getByRole('button', { name: 'Add', exact: true }).click()
  await page.locator('.line-key', { hasText: 'Speed' }).waitFor()
  // What is shown stands in the address: whoever opens it sees the same stretch, marks and channels.
  const shownNow = await page.locator('.shown').textContent()
  await page.waitForURL(/a=.*&b=.*&chart=.*speed/)
  await page.reload()
  await page.locator('.line-key', { hasText: 'Speed' }).waitFor()
  await page.getByText('Δt', { exact: false }).waitFor()
  expect(await page.locator('.shown').textContent()).toBe(shownNow)

  // The cell is picked in the picture of the pack.
  await page.getByRole('link', { name: 'Pack' }).click()
  await page.getByRole('button', { name: new RegExp(`^Cell ${CELL}:`) }).click()
  const cell = page.getByRole('region', { name: `Cell ${CELL}`, exact: true })
  await cell.getByText('the model’s line').waitFor()
  await page.waitForURL(new RegExp(`/pack/${CELL}(\\?|$)`))

  // A slider of the regeneration map replays the drive at once.
  await page.getByRole('link', { name: 'Brake' }).click()
  const replay = page.getByRole('region', { name: 'The same drive with another map' })
  const recovered = replay.getByRole('row', { name: /Recovered/ }).getByRole('cell')
  await recovered.nth(1).waitFor()
  const asDriven = await recovered.nth(1).textContent()
  await replay.getByLabel(/^(Most torque|Torque there)/).focus()
  for (let i = 0; i < 12; i++) await page.keyboard.press('ArrowLeft')
  await expect.poll(() => recovered.nth(1).textContent()).not.toBe(asDriven)
  await replay.getByText('friction alone', { exact: false }).first().waitFor()
  expect(Number.parseFloat((await recovered.nth(1).textContent())!)).toBeLessThan(
    Number.parseFloat(asDriven!),
  )

  // Notes go on the sheet, which prints.
  await page.getByRole('link', { name: 'Report' }).click()
  await page.getByLabel('Notes on the sheet').fill('Busbar opened, faces cleaned.')
  await page.getByRole('button', { name: 'Keep title and notes' }).click()
  await page.getByText('Kept. The sheet below shows them.').waitFor()
  const sheet = await browser.newPage()
  await sheet.goto(new URL(`api/drives/${page.url().split('/').at(-2)}/report`, serving.url).href)
  await sheet.getByText('Busbar opened, faces cleaned.').waitFor()
  const pdf = await sheet.pdf({ format: 'A4' })
  expect(pdf.subarray(0, 5).toString()).toBe('%PDF-')
  expect(pdf.length).toBeGreaterThan(20_000)
  await sheet.close()

  // Reload: the same place. Home: the drive is in the list, with its car.
  await page.reload()
  await page.getByRole('heading', { name: 'Hand-over sheet' }).waitFor()
  expect(await page.getByLabel('Notes on the sheet').inputValue()).toBe('Busbar opened, faces cleaned.')
  await page.getByRole('link', { name: 'Aftermile' }).click()
  await page.getByRole('link', { name: /Juniper: / }).click()
  await page.locator('.card', { hasText: JOINT }).waitFor()

  expect(complaints).toEqual([])
}, 240_000)

it('says that a drive is gone, and leads back to those that are stored', async () => {
  await page.goto(`${serving.url}#/drive/20300101-000000-aaaaaa/findings`)
  await page.getByRole('heading', { name: 'This drive cannot be opened' }).waitFor()
  await page.getByRole('alert').getByText('There is no stored drive with this id.').waitFor()
  await page.getByRole('link', { name: 'All stored drives' }).click()
  await page.getByRole('heading', { name: 'What brings you here?' }).waitFor()
  await expect.poll(() => page.getByRole('alert').textContent()).toBe('')
  complaints.length = 0
})

it('says in one sentence what is wrong with a file that is no log', async () => {
  await page.goto(`${serving.url}#/`)
  await drop({ 'empty.csv': '' })
  // What is missing is said, with what it costs, before anything is read.
  await page.getByText('Missing: Vehicle file.').waitFor()
  await page.getByRole('button', { name: 'Read without it' }).click()
  await page
    .getByRole('alert')
    .getByText(/empty\.csv: .*empty/)
    .waitFor()
  await page.getByRole('button', { name: 'Close' }).click()
  complaints.length = 0
})

/** Pixels of the chart that are not blank: a chart without lines fails here. */
function drawnPixels(chart: ReturnType<Page['locator']>): Promise<number> {
  return chart.locator('canvas').evaluate(async (canvas) => {
    const own = canvas as HTMLCanvasElement
    let drawn = 0
    for (let tries = 0; tries < 40 && drawn < 500; tries++) {
      await new Promise((done) => setTimeout(done, 50))
      const { data } = own
        .getContext('2d')!
        .getImageData(own.width * 0.2, 0, own.width * 0.7, own.height * 0.8)
      drawn = 0
      // Strong blue lines alone: grid and text are grey.
      for (let i = 0; i < data.length; i += 4) if (data[i + 3]! > 200 && data[i + 2]! - data[i]! > 60) drawn++
    }
    return drawn
  })
}

it('opens a drive in one file by dropping it: nothing is asked for, its vehicle file is inside', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'aftermile-drop-'))
  const file = join(folder, 'from a colleague.parquet')
  await writeDriveFile(file, smallDrive('their-log.csv'), { name: 'Teasel' })
  await page.goto(serving.url)
  const data = await page.evaluateHandle((base64) => {
    const transfer = new DataTransfer()
    const bytes = Uint8Array.from(atob(base64), (each) => each.charCodeAt(0))
    transfer.items.add(new File([bytes], 'from a colleague.parquet'))
    return transfer
  }, readFileSync(file).toString('base64'))
  await page.dispatchEvent('.drop', 'drop', { dataTransfer: data })
  await page.waitForURL(/#\/drive\/[^/]+\/findings/)
  await page.getByText('Teasel').first().waitFor()
  await page.getByRole('link', { name: 'Report' }).click()
  expect(await page.getByRole('link', { name: 'The drive in one file' }).getAttribute('download')).toMatch(
    /\.parquet$/,
  )
})
