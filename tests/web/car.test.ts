import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { openPlace } from '../../src/library/place.ts'
import { startBrowser } from '../helpers/browser.ts'
import { keptDrive } from '../helpers/car-drives.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'

/** A car's record as the workshop uses it: a finding mended, looked for in the next drive, papers printed. */
let browser: Browser
let context: BrowserContext
let page: Page
let serving: TestServing
const complaints: string[] = []
const PICTURES = process.env.AFTERMILE_PICTURES

beforeAll(async () => {
  buildPage()
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
  context = await browser.newContext({ viewport: { width: 1440, height: 900 } })
  page = await context.newPage()
  page.setDefaultTimeout(45_000)
  page.on('pageerror', (error) => complaints.push(error.message))
  page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()))
  keptDrive(openPlace(serving.dataDir), [{ kind: 'joint', cell: 9, ohm: 0.0016 }], '2026-05-01T08:00:00Z')
}, 120_000)
afterAll(async () => {
  await browser?.close()
  await serving?.close()
})

async function picture(name: string): Promise<void> {
  if (!PICTURES) return
  mkdirSync(PICTURES, { recursive: true })
  for (const width of [1440, 390]) {
    await page.setViewportSize({ width, height: 900 })
    await page.screenshot({ path: join(PICTURES, `${name}-${width}.png`), fullPage: true })
  }
  await page.setViewportSize({ width: 1440, height: 900 })
}

async function axe(): Promise<void> {
  const { violations } = await new AxeBuilder({ page }).analyze()
  expect(violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html}`)).toEqual([])
}

it('a finding is mended, looked for in the next drive, and printed; nothing of a stop is taken away', async () => {
  await page.goto(serving.url)
  await page.getByRole('link', { name: 'Juniper', exact: true }).click()
  await page.getByRole('heading', { level: 1, name: 'Juniper' }).waitFor()
  const verdict = await page.locator('.verdict').textContent()
  const stops = await page.locator('article.stop').count()
  expect(stops).toBeGreaterThan(0)
  await page.getByRole('button', { name: /^What became of it: .*joint/i }).click()
  await page.getByLabel('By', { exact: true }).fill('R. Hale')
  await page.getByLabel('On', { exact: true }).fill('2026-05-03')
  await page.getByLabel('What was done').fill('Bolt replaced, busbar cleaned')
  await page.getByLabel('Reading before').fill('1.6')
  await page.getByLabel('Reading after').fill('0.08')
  await picture('mending')
  await page.getByRole('button', { name: 'Keep', exact: true }).click()
  await page.getByText('Mended on 2026-05-03 by R. Hale').waitFor()
  // mended, and the last drive's stop stands as it stood
  expect(await page.locator('.verdict').textContent()).toBe(verdict)
  expect(await page.locator('article.stop').count()).toBe(stops)
  await page.getByLabel('Your name, for what you bring').fill('R. Hale')
  await page.getByLabel('What was measured').fill('joint')
  await page.getByLabel('Where').fill('between cells 8 and 9')
  await page.getByLabel('Reading', { exact: true }).fill('0.08')
  await page.getByRole('button', { name: 'Keep the reading' }).click()
  await page.getByText('joint, between cells 8 and 9: 0.08 mΩ').waitFor()
  await page.getByLabel('Photo or file').setInputFiles({
    name: 'joint.png',
    mimeType: 'image/png',
    buffer: Buffer.from('89504e470d0a1a0a', 'hex'),
  })
  await page.getByRole('link', { name: 'joint.png' }).waitFor()
  await axe()

  keptDrive(openPlace(serving.dataDir), [], '2026-05-09T08:00:00Z')
  await page.reload()
  const retest = page.locator('.retest', { hasText: 'mΩ' })
  await retest.waitFor()
  expect(await retest.textContent()).toMatch(/Not seen any more; 0\.\d+ mΩ would have shown\. It reads /)
  await page.getByText('Figures over the drives').click()
  await page.getByRole('cell', { name: /Cell 9 and its joint/ }).waitFor()
  await picture('retested')
  await axe()

  for (const [name, words] of [
    ['Hand-over sheet', /Not seen any more/],
    ['Summary for the customer', /What was mended/],
    ['What to log next', /Log or do/],
  ] as const) {
    const [paper] = await Promise.all([
      context.waitForEvent('page'),
      page.getByRole('link', { name: new RegExp(name) }).click(),
    ])
    await paper.getByText(words).first().waitFor()
    // one page of paper, and no wider than it
    const pdf = await paper.pdf({ format: 'A4', preferCSSPageSize: true })
    const pages = pdf.toString('latin1').match(/\/Type\s*\/Page\b/g)?.length ?? 0
    if (name === 'Summary for the customer') expect(pages).toBe(1)
    else expect(pages).toBeGreaterThan(0)
    if (PICTURES)
      await paper.screenshot({
        path: join(PICTURES, `${name.toLowerCase().replaceAll(' ', '-')}.png`),
        fullPage: true,
      })
    await paper.close()
  }

  // among the stored drives the one with the finding is found by its words
  await page.getByRole('link', { name: 'Aftermile' }).click()
  const rows = page.locator('.drive-row')
  await page.getByText('2 drives', { exact: true }).waitFor()
  await page.getByLabel('Car, kit, log or finding').fill('juniper joint-9')
  await page.getByText('1 of 2 drives').waitFor()
  expect(await rows.count()).toBe(1)
  await axe()
  await picture('found')
  await page.getByLabel('From').fill('2026-05-08')
  await page.getByText('0 of 2 drives').waitFor()
  await page.getByRole('button', { name: 'Show all' }).click()
  await page.getByText('2 drives', { exact: true }).waitFor()
  expect(await rows.count()).toBe(2)
  expect(complaints).toEqual([])
}, 120_000)
