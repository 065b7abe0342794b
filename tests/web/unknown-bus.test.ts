import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'
import { type Scene, scene } from '../studies/look/scene.ts'

/** A capture that nobody described, dropped with another log of its drive: from proposed rows to a reviewed drive. */
let browser: Browser
let serving: TestServing
let page: Page
let made: Scene
const complaints: string[] = []
const SHOTS = process.env.SHOTS
beforeAll(async () => {
  buildPage()
  made = scene('second', 1, [120, 130])
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
  page = await browser.newPage({ viewport: { width: 1280, height: 900 } })
  page.setDefaultTimeout(90_000)
  page.on('pageerror', (error) => complaints.push(error.message))
}, 120_000)
afterAll(async () => {
  await browser?.close()
  await serving?.close()
  made?.remove()
})

it('proposes rows with their course, lets them be put right, and reads the drive with those ticked', async () => {
  await page.goto(serving.url)
  await page.locator('input[type=file]').setInputFiles([made.capture, made.log])
  await page.getByRole('button', { name: 'Read without it' }).click()
  await page.getByRole('heading', { name: 'bus.pcap: nobody described this bus' }).waitFor()
  // the conditions under which a control may be tried stand there each time
  await page.getByText('driven wheels off the ground', { exact: false }).waitFor()
  const rows = page.getByLabel('Proposed rows').locator('tbody tr')
  expect(await rows.count()).toBeGreaterThan(60)
  expect(await rows.first().locator('svg polyline').count()).toBe(1)
  const motor = page.getByLabel('Factor of motor_speed')
  expect(await motor.inputValue()).toBe('1')
  if (SHOTS) await page.screenshot({ path: `${SHOTS}/unknown-bus.png` })
  // unticked, a row is not used
  await page.getByLabel('Use brake_pressure').setChecked(false)
  await page.getByRole('button', { name: /^Read with the \d+ rows ticked$/ }).click()
  await page.waitForURL(/#\/drive\//)
  await page.getByRole('heading', { level: 1 }).waitFor()
  if (SHOTS) await page.screenshot({ path: `${SHOTS}/unknown-bus-reviewed.png` })
  const id = /drives?\/([^/]+)/.exec(page.url())![1]!
  const drive = (await (await fetch(`${serving.url}api/drives/${id}`)).json()) as {
    review: { channels: { id: string; from: string }[] }
  }
  const fromBus = drive.review.channels
    .filter(({ from }) => from.startsWith('bus.pcap'))
    .map((each) => each.id)
  expect(fromBus).toContain('motor_speed')
  expect(fromBus).not.toContain('brake_pressure')
  expect(complaints).toEqual([])
}, 240_000)
