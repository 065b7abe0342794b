import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'

/** The three reasons why people come, each from an empty library to its own first view. */
let browser: Browser
let serving: TestServing
let page: Page
const complaints: string[] = []
beforeAll(async () => {
  buildPage()
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
  page = await browser.newPage({ viewport: { width: 390, height: 844 } })
  page.setDefaultTimeout(45_000)
  page.on('pageerror', (error) => complaints.push(error.message))
  page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()))
})
afterAll(async () => {
  await browser?.close()
  await serving?.close()
})

/** Sorrel's own truth: the step that stopped it. */
const { expect: truth } = JSON.parse(
  readFileSync(join(import.meta.dirname, '../../sample-logs/sorrel/expected.json'), 'utf8'),
)

it('leads a car that will not start to its ladders and work card, which open below 60 V', async () => {
  expect(truth.some(({ kind }: { kind: string }) => kind === 'no-drive')).toBe(true)
  await page.goto(serving.url)
  await page.getByRole('link', { name: 'The car will not start' }).click()
  await page.getByText('A step that was not logged cannot be ruled out.', { exact: false }).waitFor()
  await page.getByRole('button', { name: /^Sorrel/ }).click()
  await page.waitForURL(/\/start(\?|$)/)
  await page.getByRole('heading', { level: 1, name: /^The car cannot drive/ }).waitFor()
  await page.getByRole('rowheader', { name: 'Precharge' }).waitFor()
  const card = page.getByRole('region', { name: 'What to check, in this order' })
  const rows = card.locator('.work-row')
  // The link is measured before anything else, whatever the review's own order.
  expect(await rows.first().getByRole('heading').textContent()).toContain('measure the link')
  const closed = card.locator('.work-closed')
  const closedAtFirst = await closed.count()
  expect(closedAtFirst).toBeGreaterThan(0)
  const link = card.getByLabel('Link voltage', { exact: false })
  // 60 V itself is not under it (UN R100, 2.17: high voltage is over 60 V).
  for (const [typed, left] of [
    ['300', closedAtFirst],
    ['60', closedAtFirst],
    ['twelve', closedAtFirst],
    ['59,9 V', 0],
    ['-300', closedAtFirst],
    ['4', 0],
  ] as const) {
    await link.fill(typed)
    await expect.poll(() => closed.count(), { message: typed }).toBe(left)
  }
  await card.getByRole('button', { name: 'Keep the readings with this drive' }).click()
  await card.getByText('Kept with the notes', { exact: false }).waitFor()
  await page.goto(page.url().replace(/start(\?.*)?$/, 'report'))
  expect(await page.getByLabel('Notes on the sheet').inputValue()).toMatch(/at the inverter: 4 V/)
}, 120_000)

it('leads the brakes to the brake view, and a stray % in the address is no blank page', async () => {
  await page.goto(`${serving.url}#/door/brakes`)
  await page.getByRole('button', { name: /^Juniper/ }).click()
  await page.waitForURL(/\/brake(\?|$)/)
  const id = page.url().split('/').at(-2)
  await page.goto(`${serving.url}#/drive/${id}/findings/100%`)
  await page.getByRole('heading', { level: 1, name: /^Needs attention/ }).waitFor()
  // One finding: the whole of it in at most three screens of a phone, nothing beside the window.
  await page.getByRole('img', { name: /less the median cell/ }).waitFor()
  expect(await page.evaluate(() => document.documentElement.scrollHeight)).toBeLessThanOrEqual(3 * 844)
  expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0)
  // The list of keys, by its key.
  await page.keyboard.press('?')
  await page.getByRole('dialog', { name: 'Keys' }).waitFor()
  await page.keyboard.press('Escape')
  await page.getByRole('dialog', { name: 'Keys' }).waitFor({ state: 'hidden' })
  // The stored list says the same sentence.
  const sentence = (await page.getByRole('heading', { level: 1 }).textContent())!
  await page.goto(`${serving.url}#/`)
  await page.locator('.drive-row', { hasText: sentence }).waitFor()
  expect(complaints).toEqual([])
}, 120_000)

it('shows what a capture without a signal table carries, with a table to fill that it then reads', async () => {
  const rows = Array.from(
    { length: 200 },
    (_, i) => `${i / 100};0x${i % 4 ? 123 : 456};2;0A ${16 + (i % 80)}`,
  )
  const bus = Buffer.from(['Time [s];ID;DLC;Data', ...rows].join('\n'))
  await page.goto(`${serving.url}#/`)
  const input = page.getByLabel('Logs of one drive')
  await input.setInputFiles({ name: 'bus.csv', mimeType: 'text/csv', buffer: bus })
  await page.getByRole('button', { name: 'Read without it' }).click()
  const panel = page.getByRole('region', { name: /^bus\.csv holds raw frames/ })
  expect(await panel.getByRole('row', { name: '0x123' }).textContent()).toContain('150')
  const download = page.waitForEvent('download')
  await panel.getByRole('button', { name: 'Save the table to fill' }).click()
  const table = readFileSync((await (await download).path())!)
  await input.setInputFiles({ name: 'signals.json', mimeType: 'application/json', buffer: table })
  await page.waitForURL(/#\/drive\//)
  expect(complaints).toEqual([])
}, 120_000)
